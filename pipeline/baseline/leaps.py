"""Leaps: readings that stand apart from both their neighbours by more than noise and the plant explain.

The noise is that of the week before, or of the half year where that is more. What the plant does to a
signal by habit (a pump that starts, another filter's wash) is learned from blocks of four weeks: in
each, the second highest leap.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.baseline.blocks import blocks_of
from pipeline.baseline.signal import Signal
from pipeline.spc.robust import median

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SCALE_DAYS = 7
LONG_DAYS = 182
HABIT_BLOCKS = 13
QUARANTINE_BLOCKS = 2
"""The newest blocks are kept out of the habit, or a fault under way would become one."""

BEYOND_HABIT = 1.5

FEWEST_STEPS = 3
"""Steps of the display that a leap goes over: calm water between two of its values flickers by one, or by
two. Common practice, no source."""


@dataclass(frozen=True)
class Leaps:
    """Leaps higher than so many scales.

    Parameters
    ----------
    at : (k,) array of int
        Which of the signal's readings.
    told : (k,) array of int
        Row of the day on which the reading after it was known.
    height : (k,) array [working scale]
        Signed, over the nearer neighbour.
    times : (k,) array
        The same in scales.
    """

    at: Ints
    told: Ints
    height: Floats
    times: Floats

    def part(self, kept: NDArray[np.bool_]) -> "Leaps":
        """Return those that are kept."""
        return Leaps(self.at[kept], self.told[kept], self.height[kept], self.times[kept])


def leaps(
    signal: Signal, resolution: float, is_share: bool, least_times: float, step: Floats | float = 0.0
) -> Leaps:
    """Return the readings that leap at least `least_times` scales over both neighbours.

    The scale of a day is the median roughness of the seven known days before it (the clipped rms of the
    distance from the middle of both neighbours); at least that of the half year before its block, and at
    least the resolution. On a coarse display a leap goes over `FEWEST_STEPS` of its steps besides.

    Parameters
    ----------
    signal : Signal
    resolution : float [unit of the tag]
    is_share : bool
        Whether the working scale is the logarithm.
    least_times : float
    step : (n,) array, or float [unit of the tag]
        Of the display, day by day.
    """
    usual = _scale(signal.day, np.exp(signal.roughness))
    middle, signed = _stand_outs(signal, least_times * float(usual.min(initial=np.inf)))
    grain = resolution / np.abs(signal.value[middle - 1]) if is_share else resolution
    scale = np.maximum(usual[signal.row[middle]], np.maximum(grain, 1e-12))
    times, told = np.abs(signed) / scale, signal.row[middle + 1]
    hit = np.flatnonzero((times >= least_times) & (_steps(signal, middle, step) > FEWEST_STEPS - 0.5))
    unusual = np.abs(signed[hit]) >= BEYOND_HABIT * _habit(signal.day, told[hit], np.abs(signed[hit]))
    hit = hit[unusual]
    return Leaps(middle[hit], told[hit], signed[hit], times[hit])


def _steps(signal: Signal, middle: Ints, step: Floats | float) -> Floats:
    """How many steps of the display a reading is from its nearer neighbour; infinite where none is known."""
    value, least = signal.value, np.broadcast_to(step, signal.days)[signal.row[middle]]
    nearer = np.minimum(*(np.abs(value[middle] - value[middle + beside]) for beside in (-1, 1)))
    with np.errstate(divide="ignore"):
        return np.asarray(nearer / least, np.float64)


def _stand_outs(signal: Signal, least: float) -> tuple[Ints, Floats]:
    """Which readings leap over both their neighbours by `least` or more, and how far over the nearer."""
    step, least = np.diff(signal.x), max(least, 1e-300)
    up, down = step >= least, step <= -least
    leap = (up[:-1] & down[1:]) | (down[:-1] & up[1:])
    found = 1 + np.flatnonzero(leap & signal.joined[1:-1] & signal.joined[2:])
    before, after = step[found - 1], -step[found]
    return found, np.where(before > 0, np.minimum(before, after), np.maximum(before, after))


def _habit(day: Floats, told: Ints, height: Floats) -> Floats:
    """For each leap, the height of those that the signal shows in one block of four or oftener."""
    habit = np.zeros(len(height))
    second: list[float] = []
    for _, here in blocks_of(day):
        part = slice(*np.searchsorted(told, [here.start, here.stop]))
        is_long = len(second) > 2 * QUARANTINE_BLOCKS
        learned = (second[:-QUARANTINE_BLOCKS] if is_long else second)[-HABIT_BLOCKS:]
        if learned:
            habit[part] = np.sort(learned)[int(0.75 * len(learned))]
        second.append(float(np.sort(height[part])[-2]) if part.stop - part.start > 1 else 0.0)
    return habit


def _scale(day: Floats, rough: Floats) -> Floats:
    """Usual distance before each day; infinite where fewer than seven days are known."""
    known = np.flatnonzero(np.isfinite(rough))
    scale = np.full(len(rough), np.inf)
    if len(known) <= SCALE_DAYS:
        return scale
    windows = np.lib.stride_tricks.sliding_window_view(rough[known], SCALE_DAYS)
    middle = np.sort(windows, axis=1)[:, SCALE_DAYS // 2]
    # Of the days before a row, the last SCALE_DAYS known ones.
    before = np.searchsorted(known, np.arange(len(rough))) - SCALE_DAYS
    enough = before >= 0
    scale[enough] = middle[before[enough]]
    for _, here in blocks_of(day):
        past = rough[max(here.start - LONG_DAYS, 0) : here.start]
        past = past[np.isfinite(past)]
        if past.size:
            scale[here] = np.maximum(scale[here], median(past))
    return scale
