"""Rhythm: when in the day a signal does what it does every day, and how many minutes late it is.

A day late by a little shows the usual course less its slope times the delay, so that the delay of one
day follows by regression on that slope. One day is uncertain; many days in a row are not.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.baseline.blocks import blocks_of
from pipeline.baseline.signal import Signal, slots

Floats = NDArray[np.float64]

SLOTS = 96
SLOT_MINUTES = 15.0
LEARN_BLOCKS = 6
FEWEST_DAYS = 42
FEWEST_SLOTS = 72
SMALLEST_RHYTHM = 0.1
"""Share of a day's variance that the usual course must explain; chance alone explains a hundredth or two."""

SMOOTH_SLOTS = 5
LONGEST_MINUTES = 240.0


@dataclass(frozen=True)
class Rhythm:
    """The usual course of each block's days, and how late each day was.

    Parameters
    ----------
    departures : (n, 96) array [working scale]
        Each day's slots less their mean; NaN where nothing counted.
    usual : (n, 96) array [working scale]
        The mean course of the half year before the day's block; NaN where too little is known.
    late_minutes : (n,) array [min]
        NaN on days with too many holes.
    """

    departures: Floats
    usual: Floats
    late_minutes: Floats


def rhythm(signal: Signal) -> Rhythm:
    """Return how late each day was against the half year before its block."""
    departures = slots(signal, SLOTS)
    known = np.isfinite(departures)
    count = known.sum(axis=1)
    filled = np.where(known, departures, 0.0)
    mean = filled.sum(axis=1) / np.maximum(count, 1)
    filled = np.where(known, filled - mean[:, None], 0.0)
    whole, spread = count >= FEWEST_SLOTS, (filled**2).sum(axis=1)
    blocks = [here for _, here in blocks_of(signal.day)]
    starts = [here.start for here in blocks]
    days, seen, total, power = (
        np.add.reduceat(part, starts, axis=0)
        for part in (
            whole.astype(np.float64),
            known * whole[:, None],
            filled * whole[:, None],
            whole * spread,
        )
    )
    days, seen, total, power = (_past(part) for part in (days, seen, total, power))
    course = smooth(total / np.maximum(seen, 1))
    # What has no rhythm cannot be late.
    has_rhythm = course.var(axis=1) * seen.sum(axis=1) >= SMALLEST_RHYTHM * power
    course[(days < FEWEST_DAYS) | ~has_rhythm] = np.nan
    slope = (np.roll(course, -2, axis=1) - np.roll(course, 2, axis=1)) / 4.0
    usual, slope = (
        np.repeat(part, [here.stop - here.start for here in blocks], axis=0) for part in (course, slope)
    )
    steep = (known * slope**2).sum(axis=1)
    behind = (known * (filled - usual) * slope).sum(axis=1)
    with np.errstate(invalid="ignore", divide="ignore"):
        minutes = np.where(whole & (steep > 0), -SLOT_MINUTES * behind / steep, np.nan)
    late = np.clip(minutes, -LONGEST_MINUTES, LONGEST_MINUTES)
    return Rhythm(np.where(known, filled, np.nan), usual, late)


def _past(blocks: Floats) -> Floats:
    """Sum of the LEARN_BLOCKS blocks before each."""
    before = np.zeros_like(blocks)
    for back in range(1, LEARN_BLOCKS + 1):
        before[back:] += blocks[:-back]
    return before


def smooth(course: Floats) -> Floats:
    """Mean of five slots round the clock, the last axis."""
    half = SMOOTH_SLOTS // 2
    turned = [np.roll(course, shift, axis=-1) for shift in range(-half, half + 1)]
    return np.asarray(sum(turned) / SMOOTH_SLOTS)


@dataclass(frozen=True)
class Fit:
    """How the mean course of some days lies on the usual one.

    Parameters
    ----------
    late_slots : int
        Shift with which it fits best.
    best, unmoved : float
        Correlation with that shift, and without any.
    """

    late_slots: int
    best: float
    unmoved: float


def fit(found: Rhythm, first: int, last: int, reach: int = 16) -> Fit:
    """Lay the mean course of the days `first` to `last` on the usual course of `last`."""
    part = found.departures[first : last + 1]
    known = np.isfinite(part)
    course = smooth(np.where(known, part, 0.0).sum(axis=0) / np.maximum(known.sum(axis=0), 1))
    usual = found.usual[last]
    lags = np.arange(-reach, reach + 1)
    moved = np.stack([np.roll(usual, lag) for lag in lags])
    spread = np.sqrt(((usual - usual.mean()) ** 2).sum() * ((course - course.mean()) ** 2).sum())
    if not spread > 0:
        return Fit(0, 0.0, 0.0)
    likeness = (moved - usual.mean()) @ (course - course.mean()) / spread
    best = int(np.argmax(likeness))
    return Fit(int(lags[best]), float(likeness[best]), float(likeness[reach]))
