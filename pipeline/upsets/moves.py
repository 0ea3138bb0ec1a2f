"""Moves: stretches in which a tag departs from its usual course by more than it ever does by itself.

A departure counts when the middle one of three quarter hours is beyond the bar, so that no single wild
reading does. The bar is the larger of one that healthy records pass but rarely, and of what the tag itself
has done in the eight weeks before: a level that jumps with every pump start is not moving when it jumps.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.evidence.thresholds import threshold
from pipeline.upsets.usual import SLOTS_A_DAY

Floats = NDArray[np.float64]

LEARN = 56 * SLOTS_A_DAY
FEWEST = 14 * SLOTS_A_DAY
WINDOW = 3
OWN_SHARE = 0.997
OWN_FACTOR = 1.25
LONGEST = 2 * SLOTS_A_DAY
"""A longer departure is another level, not a move: by then it has long been reported."""


@dataclass(frozen=True)
class Move:
    """One stretch beyond the bar; positions on the quarter-hour grid.

    Parameters
    ----------
    start, end : int
        First and one past the last quarter hour beyond the bar or on the way back.
    crossed : int
        Quarter hour at whose end it was known.
    peak : float [sd]
        The departure furthest out, signed.
    peak_at : int
    lasting : bool
        It had not come back when it was given up.
    """

    start: int
    end: int
    crossed: int
    peak: float
    peak_at: int
    lasting: bool = False


def moves(z: Floats, first: int = 0) -> list[Move]:
    """Find the moves of a tag that are known from position `first` on.

    Parameters
    ----------
    z : (n,) array [sd]
        Departures; NaN where not known. Each bar is learned from the eight weeks before its day.
    first : int
        Earlier ones are not looked for.
    """
    middle = _middle(z)
    size = np.abs(middle)
    found: list[Move] = []
    at = max(first, FEWEST)
    while at < len(z):
        day_end = min((at // SLOTS_A_DAY + 1) * SLOTS_A_DAY, len(z))
        bar = bar_before(size, at // SLOTS_A_DAY * SLOTS_A_DAY)
        beyond = np.flatnonzero(size[at:day_end] > bar)
        if len(beyond) == 0:
            at = day_end
            continue
        move = _move(z, middle, at + int(beyond[0]), bar)
        found.append(move)
        at = max(move.end, at + int(beyond[0]) + 1)
    return found


def bar_before(size: Floats, day: int) -> float:
    """Bar [sd] that holds for the day that begins at position `day`."""
    past = size[max(day - LEARN, 0) : day]
    past = past[np.isfinite(past)]
    if len(past) < FEWEST // 2:
        return float("inf")
    return max(threshold("move_bar"), OWN_FACTOR * float(np.quantile(past, OWN_SHARE)))


def _middle(z: Floats) -> Floats:
    """Median of each quarter hour and the two before it; NaN where one of them is not known."""
    if len(z) < WINDOW:
        return np.full(len(z), np.nan)
    windows = np.lib.stride_tricks.sliding_window_view(z, WINDOW)
    return np.concatenate([np.full(WINDOW - 1, np.nan), np.median(windows, axis=1)])


def _move(z: Floats, middle: Floats, crossed: int, bar: float) -> Move:
    """Follow a move until three quarter hours on end stand inside half the bar, or nothing is known."""
    side = np.sign(middle[crossed])
    last = min(crossed + LONGEST, len(z))
    beyond = side * middle[crossed:last] >= bar / 2
    ahead = np.lib.stride_tricks.sliding_window_view(np.append(beyond, np.zeros(WINDOW, bool)), WINDOW)
    over = np.flatnonzero(~ahead.any(axis=1))
    end = crossed + int(over[0]) if len(over) else last
    end = max(min(end, last), crossed + 1)
    start = crossed - WINDOW + 1
    while start < crossed and not side * z[start] > bar / 2:
        start += 1
    part = side * np.nan_to_num(z[start:end])
    peak_at = start + int(part.argmax())
    lasting = not len(over) or crossed + int(over[0]) >= last
    return Move(start, end, crossed, float(z[peak_at]), peak_at, lasting and last < len(z))
