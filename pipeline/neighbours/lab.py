"""Lab: an error against the grabs that does not go away."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.baseline.pairs import GRAB_SD, errors_of
from pipeline.baseline.scale import on_scale
from pipeline.case import RESTARTS, Case
from pipeline.spc.robust import median, robust_sd

FEWEST, MOST = 4, 8
FEWEST_DAYS = 7
"""Shortest time that the grabs must span: four of one day are one visit."""

STANDS_SHARE = 0.7
"""Of the tolerance: below it, by the median of the last four, the error has gone."""

GROWTH_SHARE = 0.5
"""Of the tolerance, over the grabs looked at: an error that changes by more is a drift's business."""

MEDIAN_COST = 1.2533
"""Standard error of a median over that of a mean, normal scatter: sqrt(pi / 2)."""

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Steady:
    """An error that stays.

    Parameters
    ----------
    start, crossed, closed : date
        First grab of it, day on which there were enough, day on which it was over (None while it lasts).
    error, half : float [working scale]
        Reading less grab, and half the width of its 95 % interval.
    count : int
        Grabs that say so.
    level : float [unit]
        What the grabs found.
    first : float or None [working scale]
        What it was by its first grabs, where it has changed since by half the tolerance or more.
    """

    start: date
    crossed: date
    closed: date | None
    error: float
    half: float
    count: int
    level: float
    first: float | None = None


def steady_errors(case: Case) -> Iterator[Steady]:
    """Yield every stretch of grabs that all show an error past the tolerance and of one size.

    The error must be past it with 95 % confidence, by the median of the last four to eight grabs (or a
    week's) since the last service and the larger of their scatter and the bench's own.
    """
    if case.pairs.height < FEWEST:
        return
    error = errors_of(case.tag, case.pairs)
    known = np.isfinite(error)
    error, level = error[known], case.pairs["grab"].to_numpy()[known]
    worth = _worth_a_look(case, error, level)
    if not worth.any():
        return
    both = case.pairs.filter(known)
    days, begins = both["day"].to_list(), _restarts(case, both["time"])
    number = both["day"].cast(pl.Int32).to_numpy()
    week = np.searchsorted(number, number - FEWEST_DAYS)
    opened: tuple[int, int] | None = None
    for row in range(len(days)):
        if opened is not None:
            newest = slice(max(opened[0], row - FEWEST + 1), row + 1)
            sign = float(np.sign(error[opened[1]]))
            if begins[row] <= opened[0] and _stands(case, sign * error[newest], level[newest]):
                continue
            yield _steady(case, days, error, level, opened, row)
            opened = None
        if not worth[row]:
            continue
        here = slice(max(int(begins[row]), min(row - MOST + 1, int(week[row]))), row + 1)
        is_long = number[row] - number[here.start] >= FEWEST_DAYS
        if is_long and _is_steady(case, error[here], level[here]):
            opened = here.start, row
    if opened is not None:
        yield _steady(case, days, error, level, opened, None)


def _restarts(case: Case, times: pl.Series) -> NDArray[np.int64]:
    """First row of the segment of each grab."""
    services = case.services.filter(pl.col("kind").is_in(RESTARTS))["time"].sort()
    segment = services.search_sorted(times).to_numpy().astype(np.int64)
    firsts = np.flatnonzero(np.append(True, np.diff(segment) != 0)) if len(segment) else np.empty(0, np.int64)
    return firsts[np.searchsorted(firsts, np.arange(len(segment)), side="right") - 1]


def _worth_a_look(case: Case, error: Floats, level: Floats) -> NDArray[np.bool_]:
    """Tell at which grabs enough of those before are of one sign and beyond the tolerance."""
    device = case.instrument
    if device is None or len(error) < FEWEST:
        return np.zeros(len(error), dtype=bool)
    allowed = np.maximum(device.tolerance or 0.0, (device.tolerance_pct or 0.0) / 100.0 * np.abs(level))
    if case.tag.is_log_scaled:
        allowed = allowed / np.maximum(np.abs(level), 1e-9)
    known = np.cumsum(np.append(0, np.abs(error) > allowed))
    beyond = known[1:] - known[np.maximum(np.arange(len(error)) + 1 - MOST, 0)]
    signs = np.cumsum(np.append(0.0, np.sign(error)))
    alike = np.zeros(len(error))
    alike[FEWEST - 1 :] = np.abs(signs[FEWEST:] - signs[:-FEWEST])
    return np.asarray((beyond >= FEWEST // 2) & (alike == FEWEST))


def _allowed(case: Case, level: float) -> float | None:
    allowed = case.tolerance_at(level)
    return None if allowed is None or not level else on_scale(case.tag, allowed, level)


def _half(case: Case, error: Floats, allowed: float) -> float:
    own = robust_sd(error)
    sd = max(GRAB_SD.get(case.tag.measures, allowed / 3.0), own)
    return 1.96 * MEDIAN_COST * sd / float(np.sqrt(len(error)))


def _is_steady(case: Case, error: Floats, level: Floats) -> bool:
    if len(error) < FEWEST:
        return False
    allowed = _allowed(case, median(level))
    middle = median(error)
    if allowed is None or not (np.sign(error) == np.sign(middle)).all():
        return False
    half = len(error) // 2
    growth = abs(median(error[-half:]) - median(error[:half]))
    return abs(middle) - _half(case, error, allowed) > allowed and growth < GROWTH_SHARE * allowed


def _stands(case: Case, error: Floats, level: Floats) -> bool:
    """Whether the newest grabs still say so; nothing that comes and goes is told anew each time."""
    allowed = _allowed(case, median(level))
    return allowed is not None and median(error) > STANDS_SHARE * allowed


def _steady(
    case: Case, days: list[date], error: Floats, level: Floats, opened: tuple[int, int], over: int | None
) -> Steady:
    last = len(days) if over is None else over
    here = slice(max(opened[0], last - MOST), last)
    middle = median(level[here])
    allowed = _allowed(case, middle) or 0.0
    return Steady(
        start=days[opened[0]],
        crossed=days[opened[1]],
        closed=None if over is None else days[over],
        error=median(error[here]),
        half=_half(case, error[here], allowed),
        count=last - opened[0],
        level=middle,
        first=_first(error[opened[0] : last], median(error[here]), allowed),
    )


def _first(error: Floats, now: float, allowed: float) -> float | None:
    """Error at first, where it has changed enough to be worth a word."""
    if len(error) < 2 * FEWEST:
        return None
    first = median(error[:FEWEST])
    return first if abs(now - first) >= GROWTH_SHARE * allowed else None
