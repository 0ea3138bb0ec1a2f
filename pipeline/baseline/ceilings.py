"""Ceilings: readings that pile up at one highest, or lowest, value as if something cut them off."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.baseline.signal import Signal
from pipeline.spc.robust import median

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

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


def pile(signal: Signal, grain: Floats, sign: float, fewest: float = 0.0) -> Pile | None:
    """Return how readings pile up below a ceiling or above a floor; None where nowhere enough of them.

    Parameters
    ----------
    signal : Signal
    grain : (n,) array [unit]
        Smallest step of each day.
    sign : float
        1 for a ceiling, -1 for a floor.
    fewest : float
        Pairs that some week must have more than by habit.
    """
    top = _Top(signal, signal.value if sign > 0 else -signal.value)
    if top.pairs.sum(axis=1).max() < fewest:
        return None
    step = _last_days(grain).max(axis=1)
    more = np.where(top.may_be_cut(step), top.more_than_by_habit(grain), 0.0)
    if more.max() < fewest:
        return None
    for day in np.flatnonzero(more).tolist():
        if not top.is_apart(day, float(step[day])):
            more[day] = 0.0
    return Pile(sign * top.extreme, more, sign * top.own, top.own_pairs)


class _Top:
    """The highest values of each day and of its week, and how often they are shown twice in a row."""

    def __init__(self, signal: Signal, value: Floats) -> None:
        self.signal, self.value = signal, value
        self.own = self._of_days(np.maximum.reduceat(value, signal.starts))
        self.extreme = _last_days(self.own).max(axis=1)
        self.same = (_last_days(self.own) == self.extreme[:, None]) & np.isfinite(self.extreme)[:, None]
        self.row = signal.row[signal.twice]
        self.own_pairs = _count(signal, self.row[value[signal.twice] == self.own[self.row]])
        self.pairs = np.where(self.same, _last_days(self.own_pairs), 0.0)

    def _of_days(self, found: Floats) -> Floats:
        """Spread the figures of the days that have one over all days."""
        figure = np.full(self.signal.days, np.nan)
        figure[self.signal.row[self.signal.starts]] = found
        return figure

    def may_be_cut(self, step: Floats) -> Bools:
        """Whether enough days of the week show it, and the display is fine enough for the week's range."""
        lowest = self._of_days(np.minimum.reduceat(self.value, self.signal.starts))
        reach = self.extreme + _last_days(-lowest).max(axis=1)
        is_wide = (reach > 0) & (reach >= FEWEST_STEPS * step)
        return np.asarray(((self.pairs > 0).sum(axis=1) >= FEWEST_PILED_DAYS) & is_wide)

    def more_than_by_habit(self, grain: Floats) -> Floats:
        """Pairs of the week at its extreme less those that its other values let expect."""
        signal, pairs = self.signal, self.pairs.sum(axis=1)
        at_top = signal.row[1:][self.value[1:] == self.own[signal.row[1:]]]
        tops = np.where(self.same, _last_days(_count(signal, at_top)), 0.0).sum(axis=1)
        below = self.extreme[self.row] - self.value[signal.twice]
        beside = _count(signal, self.row[(below > 0) & (below <= BESIDE * _week_s(grain)[self.row])])
        elsewhere = _week(_count(signal, self.row)) - pairs
        share = elsewhere / np.maximum(_week(signal.readings.astype(np.float64)) - tops, 1.0)
        usual = np.maximum(BY_HABIT * share * tops, _week(beside))
        return np.asarray(np.maximum(pairs - usual, 0.0), np.float64)

    def is_apart(self, day: int, step: float) -> bool:
        """Whether the other readings of the week up to a day lie clear of its extreme, half at least."""
        week = slice(*np.searchsorted(self.signal.row, (day - PILED_DAYS + 1, day + 1)))
        extreme = float(self.extreme[day])
        others = self.value[week][self.value[week] < extreme]
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
