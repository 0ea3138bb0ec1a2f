"""Ceilings: readings that pile up at one highest, or lowest, value as if something cut them off."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.baseline.signal import Signal
from pipeline.spc.robust import median

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

PILED_DAYS = 7
FEWEST_PILED_DAYS = 3
"""A cut shows on several days; the crest of one warm day does not come again to the digit."""

FEWEST_STEPS = 8.0
"""Steps of the display that the week must range over: a coarse one shows its highest value again and
again because there are hardly any others. Half of that must lie between the extreme and the middle of the
other readings: a storm or a tide widens the range of calm water too. Common practice, no source."""

BESIDE = 3.5
"""Steps within which a value is next to the extreme."""

BY_HABIT = 1.5
"""A slow signal repeats itself anywhere, at its crest so many times oftener."""


@dataclass(frozen=True)
class Pile:
    """How readings pile up at the extreme of the last week, day by day.

    Parameters
    ----------
    extreme : (n,) array [unit]
        Highest (lowest) reading of the last seven days.
    pairs : (n,) array
        How often, in those seven days, two neighbours both showed it, less how often they would by the
        habit of its other values, and of those next to it. 0 unless on three days or more, and where the
        display is too coarse for the week's range.
    own_extreme, own_pairs : (n,) arrays
        The same of each day alone.
    """

    extreme: Floats
    pairs: Floats
    own_extreme: Floats
    own_pairs: Floats

    def first_day(self, row: int) -> int:
        """First of the seven days up to a row that touched their extreme with two neighbours."""
        days = range(max(row - PILED_DAYS + 1, 0), row + 1)
        return next((d for d in days if self._touches(d, row)), row)

    def _touches(self, day: int, row: int) -> bool:
        return bool(self.own_extreme[day] == self.extreme[row] and self.own_pairs[day] > 0)


def pile(signal: Signal, grain: Floats, sign: float) -> Pile:
    """Return how readings pile up below a ceiling or above a floor.

    Parameters
    ----------
    signal : Signal
    grain : (n,) array [unit]
        Smallest step of each day.
    sign : float
        1 for a ceiling, -1 for a floor.
    """
    value = sign * signal.value
    own, other_end, at_top = _ends(signal, value)
    twice = _twice(signal, value)
    row = signal.row[twice]
    own_pairs = _count(signal, row[value[twice] == own[row]])
    extreme = _last_days(own).max(axis=1)
    below = extreme[row] - value[twice]
    beside = _count(signal, row[(below > 0) & (below <= BESIDE * _week_s(grain)[row])])
    same = (_last_days(own) == extreme[:, None]) & np.isfinite(extreme)[:, None]
    pairs, tops = (np.where(same, _last_days(part), 0.0) for part in (own_pairs, _count(signal, at_top)))
    reach, step = extreme + _last_days(-other_end).max(axis=1), _last_days(grain).max(axis=1)
    is_wide = (reach > 0) & (reach >= FEWEST_STEPS * step)
    enough = ((pairs > 0).sum(axis=1) >= FEWEST_PILED_DAYS) & is_wide
    for day in np.flatnonzero(enough).tolist():
        enough[day] = _is_apart(signal, value, day, float(extreme[day]), float(step[day]))
    elsewhere = _week(_count(signal, row)) - pairs.sum(axis=1)
    share = elsewhere / np.maximum(_week(signal.readings.astype(np.float64)) - tops.sum(axis=1), 1.0)
    usual = np.maximum(BY_HABIT * share * tops.sum(axis=1), _week(beside))
    more = np.maximum(pairs.sum(axis=1) - usual, 0.0)
    return Pile(sign * extreme, np.where(enough, more, 0.0), sign * own, own_pairs)


def _ends(signal: Signal, value: Floats) -> tuple[Floats, Floats, Ints]:
    """Highest and lowest value of each day, and the rows of the readings (but the first) at the highest."""
    starts = np.flatnonzero(np.append(True, np.diff(signal.row) > 0))
    days = signal.row[starts]
    highest, lowest = (np.full(signal.days, np.nan) for _ in range(2))
    highest[days], lowest[days] = np.maximum.reduceat(value, starts), np.minimum.reduceat(value, starts)
    top = np.repeat(highest[days], np.diff(starts, append=len(value)))
    return highest, lowest, signal.row[1:][value[1:] == top[1:]]


def _twice(signal: Signal, value: Floats) -> Ints:
    """Which readings repeat the one before, of the same day."""
    found = 1 + np.flatnonzero((value[1:] == value[:-1]) & signal.joined[1:])
    return np.asarray(found[signal.row[found] == signal.row[found - 1]], np.int64)


def _is_apart(signal: Signal, value: Floats, day: int, extreme: float, step: float) -> bool:
    """Whether the other readings of the week up to a day lie clear of its extreme, half of them at least."""
    week = slice(*np.searchsorted(signal.row, (day - PILED_DAYS + 1, day + 1)))
    others = value[week][value[week] < extreme]
    return others.size > 0 and extreme - median(others) >= 0.5 * FEWEST_STEPS * step


def _count(signal: Signal, row: Ints) -> Floats:
    """How many of the readings at `row` each day holds."""
    return np.bincount(row, minlength=signal.days).astype(np.float64)


def _week(figure: Floats) -> Floats:
    """Sum of the last seven days up to each."""
    days = _last_days(figure)
    return np.asarray(np.where(np.isfinite(days), days, 0.0).sum(axis=1))


def _week_s(grain: Floats) -> Floats:
    """Smallest step of the last seven days up to each; 0 where there was none."""
    step = _last_days(-grain).max(axis=1)
    return np.where(np.isfinite(step), -step, 0.0)


def _last_days(figure: Floats) -> Floats:
    """(n, 7) array of each day and the six before it; what is missing is low."""
    low = np.where(np.isfinite(figure), figure, -np.inf)
    padded = np.append(np.full(PILED_DAYS - 1, -np.inf), low)
    return np.asarray(np.lib.stride_tricks.sliding_window_view(padded, PILED_DAYS))
