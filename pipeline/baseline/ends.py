"""Ends: stretches in which the readings stand at an end of the instrument's span.

Within one step of its display a reading is at the end. Where such a step is no finer than the admissible
error, clean water reads so too: there the day before must have read something else, and the end itself be
shown.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.baseline.apart import FORGET_DAYS
from pipeline.baseline.blocks import blocks
from pipeline.baseline.ice import at_ice
from pipeline.baseline.signal import DAY_US
from pipeline.case import Case
from pipeline.clock import midnight
from pipeline.epoch import MICROSECOND, epoch_us, instant_of
from pipeline.spc.runs import run_bounds

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

FEWEST_DAYS = 42
HABIT_RUNS = 3
"""So many stands in the past are a habit; from then on one must be twice as long as any of them. Those that
were news teach none for half a year, or a span that is too small would be usual within weeks; but to stand
at nothing is a habit as soon as it is one."""

NOTHING = ("low", 0.0)
"""Side and place of the end of a span that begins at zero."""


@dataclass(frozen=True)
class Stand:
    """One stretch.

    Parameters
    ----------
    side : str
        ``low`` or ``high``.
    end_of_span : float [unit]
    begin, end : datetime
        First reading there, and the next reading elsewhere or two steps later [UTC].
    told : datetime
        When it had lasted long enough.
    lasts : bool
        Whether the newest reading is part of it.
    """

    side: str
    end_of_span: float
    begin: datetime
    end: datetime
    told: datetime
    lasts: bool

    @property
    def is_at_nothing(self) -> bool:
        """Whether it stood at the zero at which the span begins: there may have been nothing to measure."""
        return (self.side, self.end_of_span) == NOTHING


def stands(case: Case, fewest: int) -> list[Stand]:
    """Return the stretches of at least `fewest` readings within one resolution of an end, oldest first."""
    near = case.tag.resolution or 0.0
    low, high = case.tag.low, case.tag.high
    least = -np.inf if low is None else low + 1.01 * near
    most = np.inf if high is None else high - 1.01 * near
    # Most instruments never come near an end of their span.
    lowest, highest = extremes(case.regular)
    if lowest > least and highest < most:
        return []
    counting = case.regular.filter(pl.col("good") & pl.col("in_state"))
    freezing = at_ice(case.tag, counting)
    counting = counting if freezing is None else counting.filter(~freezing)
    value, time = counting["value"].to_numpy(), counting["time"].dt.epoch("us").to_numpy()
    found: list[Stand] = []
    for side, end, sign in (("low", case.tag.low, 1.0), ("high", case.tag.high, -1.0)):
        if end is not None and len(value):
            off = sign * (value - end)
            found += _of_side(case, time, off, fewest, (side, end))
    return sorted(found, key=lambda stand: stand.begin)


def extremes(readings: pl.DataFrame) -> tuple[float, float]:
    """Return the lowest and the highest value of a record, whatever its quality; (inf, -inf) without any."""
    lowest, highest = readings["value"].min(), readings["value"].max()
    if not isinstance(lowest, float) or not isinstance(highest, float):
        return np.inf, -np.inf
    return lowest, highest


def _of_side(case: Case, time: Ints, off: Floats, fewest: int, which: tuple[str, float]) -> list[Stand]:
    """Return the stretches at one end, by how far the readings are off it [unit]."""
    near = 1.0001 * (case.tag.resolution or 0.0)
    at_end = (off <= near) & (off >= 0)
    if not at_end.any():
        return []
    step = case.pace // MICROSECOND
    joined = np.append(False, np.diff(time) <= 2 * step)
    first, last = run_bounds(np.where(at_end, 0.0, np.nan), joined)
    length = last - first + 1
    allowed = _allowed(case, time, first, length, fewest, which == NOTHING)
    follows = np.append(time, time[-1] + step)
    tolerance = case.tolerance_at(which[1])
    is_coarse = tolerance is not None and near >= tolerance
    return [
        Stand(
            *which,
            instant_of(time[first[k]]),
            instant_of(min(follows[last[k] + 1], time[last[k]] + 2 * step)),
            instant_of(time[first[k] + int(allowed[k]) - 1]),
            bool(last[k] == len(time) - 1),
        )
        for k in np.flatnonzero(length >= allowed)
        if not is_coarse or _is_plain(time, off, int(first[k]), int(allowed[k]), near)
    ]


def _is_plain(time: Ints, off: Floats, first: int, fewest: int, near: float) -> bool:
    """Whether a stretch shows the end itself by when it is told, and the day before it lay clear of it."""
    since = int(np.searchsorted(time, time[first] - DAY_US))
    is_shown = bool((off[first : first + fewest] == 0).any())
    return is_shown and first > since and float(np.median(off[since:first])) > 2.0 * near


def _allowed(
    case: Case, time: Ints, first: Ints, length: Ints, fewest: int, at_nothing: bool
) -> NDArray[np.float64]:
    """Return how many readings each stretch must have to be news; infinite in the first weeks."""
    start = time[first]
    allowed = np.full(len(first), np.inf)
    begin, end = (instant_of(time[at]).astimezone(case.zone).date() for at in (0, -1))
    for block, following in blocks(begin, end):
        now, until = (epoch_us(midnight(day, case.zone)) for day in (block, following))
        if block - begin < timedelta(days=FEWEST_DAYS):
            continue
        forgotten = epoch_us(midnight(block - timedelta(days=FORGET_DAYS), case.zone))
        by_then = np.minimum(length, np.searchsorted(time, now) - first)
        teaches = (start < forgotten) | (by_then < allowed) | at_nothing | (allowed == np.inf)
        past = by_then[(start < now) & teaches]
        long = past[past >= fewest]
        here = (start >= now) & (start < until)
        allowed[here] = fewest if len(long) < HABIT_RUNS else 2 * long.max()
    return allowed
