"""Snaps: readings that leave their course for hours and come back to it at once, as no water does.

The way back is a jump: three readings beyond three others, with at most one on its way between them. Its
bar is learned from the signal's own jumps of the year before, whatever they came of. The way out may be
slow; but before and after must agree, and all in between lie on one side.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.baseline.blocks import blocks_of
from pipeline.baseline.signal import Signal

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

HELD = 3
"""Readings on either side of the jump: a lone leap is none."""

APART = HELD + 1
"""From the first of those before it to the first of those after it."""

LEARN_DAYS = 364
FEWEST_DAYS = 84
"""A season: water that was seen in spring alone jumps higher in its first summer."""

DAYS_A_RANK = 120
"""In a year three days may have jumped higher than what is taken for usual: they may be faults too."""

MOST_NEWS = 6
"""Snaps in a year that are still faults; of more than these the signal has made a habit."""

AGREED = 0.3
"""Share of the jump by which the courses before and after may differ at most."""

LONGEST_US = 12 * 3_600_000_000


@dataclass(frozen=True)
class Snap:
    """One excursion that ended at once.

    Parameters
    ----------
    begin, back : int
        Which of the signal's readings was the first off its course, and the first on it again.
    begun, told : int
        Rows: the day of `begin`, and the day on which `HELD` readings of the course were known again.
    course, height : float [working scale]
        Where it came back to; the jump, signed.
    past_days : int
        Days that the bar rests on.
    """

    begin: int
    back: int
    begun: int
    told: int
    course: float
    height: float
    past_days: int


def snaps(signal: Signal, grain: float, times: float) -> list[Snap]:
    """Return the excursions of `HELD` readings to half a day that ended by a jump back, oldest first.

    Parameters
    ----------
    signal : Signal
    grain : float [working scale]
        What rounding alone may add to a jump; 0 where errors are shares.
    times : float
        How many times the highest usual jump is beyond the signal's own.
    """
    if len(signal.x) < 3 * APART:
        return []
    height = _heights(signal)
    highest, starts = _by_day(signal, height)
    found: list[Snap] = []
    for _, here in blocks_of(signal.day):
        usual, days = _usual(highest, here, found)
        if days < FEWEST_DAYS:
            continue
        bar = times * usual + grain
        for row in here.start + np.flatnonzero(highest[here] >= max(bar, 1e-12)):
            first = int(starts[row])
            last = int(starts[row + 1]) if row + 1 < len(starts) else len(height)
            for at in first + np.flatnonzero(height[first:last] >= bar):
                snap = _verified(signal, int(at), float(height[at]), days)
                if snap is not None and (not found or snap.begin >= found[-1].back):
                    found.append(snap)
    return found


def _heights(signal: Signal) -> Floats:
    """Height of the jump to each reading, up or down [working scale]; 0 where none holds or one is missing.

    Three readings from this one on against three before it, the one just before it left out.
    """
    x, n = signal.x, len(signal.x)
    low, high = np.minimum(x[:-2], x[1:-1]), np.maximum(x[:-2], x[1:-1])
    np.minimum(low, x[2:], out=low)
    np.maximum(high, x[2:], out=high)
    height = np.zeros(n)
    beyond = height[APART : n - HELD + 1]
    np.subtract(low[APART:], high[:-APART], out=beyond)
    np.maximum(beyond, low[:-APART] - high[APART:], out=beyond)
    np.maximum(beyond, 0.0, out=beyond)
    broken = np.flatnonzero(~signal.joined)
    missing = broken[:, None] + np.arange(1 - HELD, APART)
    height[np.clip(missing, 0, n - 1)] = 0.0
    return height


def _by_day(signal: Signal, height: Floats) -> tuple[Floats, Ints]:
    """Highest jump told on each day, NaN where nothing was read, and the first reading told on each."""
    # It is told with the last of the readings that hold it.
    read = np.searchsorted(signal.row, np.arange(signal.days + 1))
    starts = np.maximum(read - (HELD - 1), 0)
    starts[0] = 0
    some = np.flatnonzero(np.diff(read) > 0)
    highest = np.full(signal.days, np.nan)
    highest[some] = np.maximum.reduceat(height, starts[some])
    return highest, starts[:-1]


def _usual(highest: Floats, here: slice, found: list[Snap]) -> tuple[float, int]:
    """Return the highest jump that the year before lets expect, and the days that this rests on."""
    since = max(here.start - LEARN_DAYS, 0)
    past = highest[since : here.start].copy()
    news = [snap for snap in found if snap.told >= since]
    for snap in news if len(news) <= MOST_NEWS else []:
        past[max(snap.begun - since, 0) : snap.told + 1 - since] = np.nan
    past = np.sort(past[np.isfinite(past)])
    rank = 1 + len(past) // DAYS_A_RANK
    return (float(past[-rank]) if len(past) >= rank else 0.0), len(past)


def _verified(signal: Signal, back: int, height: float, days: int) -> Snap | None:
    """Return the excursion that ends at `back` or just before it, where it was one."""
    x, slack = signal.x, AGREED * height
    course = float(np.median(x[back : back + HELD]))
    side = 1.0 if course > x[back - APART + 1] else -1.0
    told = int(signal.row[back + HELD - 1])
    if (course - x[back - 1]) * side <= slack:
        back -= 1
    first = int(np.searchsorted(signal.time_us, signal.time_us[back] - LONGEST_US))
    near = first + np.flatnonzero((course - x[first : back - 1]) * side <= slack)
    if near.size == 0 or near[-1] < HELD - 1:
        return None
    begin = int(near[-1]) + 1
    before = slice(begin - HELD, begin)
    agrees = abs(float(np.median(x[before])) - course) <= slack
    if not agrees or not signal.joined[begin - HELD + 1 : back + HELD].all():
        return None
    return Snap(begin, back, int(signal.row[begin]), told, course, side * height, days)
