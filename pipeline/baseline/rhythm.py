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
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

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
        Each day's slots less their mean; 0 where nothing counted.
    known : (n, 96) array of bool
        Whether something counted.
    usual : (m, 96) array [working scale]
        The mean course of the half year before each block; NaN where too little is known.
    block : (n,) array of int
        Which block each day is of.
    late_minutes : (n,) array [min]
        NaN on days with too many holes.
    """

    departures: Floats
    known: Bools
    usual: Floats
    block: Ints
    late_minutes: Floats


def rhythm(signal: Signal) -> Rhythm:
    """Return how late each day was against the half year before its block."""
    departures, known = _departures(signal)
    whole = np.count_nonzero(known, axis=1) >= FEWEST_SLOTS
    blocks = [here for _, here in blocks_of(signal.day)]
    usual = _usual(departures, known, whole, blocks)
    slope = (np.roll(usual, -2, axis=1) - np.roll(usual, 2, axis=1)) / 4.0
    late = np.full(signal.days, np.nan)
    for here, course, steep in zip(blocks, usual, slope, strict=True):
        # What has no rhythm cannot be late.
        if np.isfinite(course[0]):
            minutes = _late(departures[here] - course, known[here], steep)
            late[here] = np.where(whole[here], minutes, np.nan)
    block = np.repeat(np.arange(len(blocks)), [here.stop - here.start for here in blocks])
    return Rhythm(departures, known, usual, block, np.clip(late, -LONGEST_MINUTES, LONGEST_MINUTES))


def _departures(signal: Signal) -> tuple[Floats, Bools]:
    """Each day's slots less their mean, 0 where nothing counted; and where something did."""
    filled = slots(signal, SLOTS)
    known = np.isfinite(filled)
    missing = np.nonzero(~known)
    filled[missing] = 0.0
    filled -= (filled.sum(axis=1) / np.maximum(np.count_nonzero(known, axis=1), 1))[:, None]
    filled[missing] = 0.0
    return filled, known


def _usual(departures: Floats, known: Bools, whole: Bools, blocks: list[slice]) -> Floats:
    """Mean course of the whole days of the half year before each block; NaN where it has no rhythm."""
    seen, total = (np.empty((len(blocks), SLOTS)) for _ in range(2))
    spread = np.empty(len(whole))
    for number, here in enumerate(blocks):
        part, counts = departures[here], whole[here, None]
        seen[number] = (known[here] & counts).sum(axis=0)
        total[number] = (part * counts).sum(axis=0)
        spread[here] = (part**2).sum(axis=1)
    starts = [here.start for here in blocks]
    days, power = (np.add.reduceat(part, starts) for part in (whole.astype(np.float64), whole * spread))
    days, seen, total, power = (_past(part) for part in (days, seen, total, power))
    course = smooth(total / np.maximum(seen, 1))
    has_rhythm = course.var(axis=1) * seen.sum(axis=1) >= SMALLEST_RHYTHM * power
    course[(days < FEWEST_DAYS) | ~has_rhythm] = np.nan
    return course


def _late(off: Floats, known: Bools, slope: Floats) -> Floats:
    """By how many minutes each day follows the usual course, by how far it is off it."""
    steep, behind = (known * slope**2).sum(axis=1), (known * off * slope).sum(axis=1)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(steep > 0, -SLOT_MINUTES * behind / steep, np.nan)


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
    days = slice(first, last + 1)
    course = smooth(found.departures[days].sum(axis=0) / np.maximum(found.known[days].sum(axis=0), 1))
    usual = found.usual[found.block[last]]
    lags = np.arange(-reach, reach + 1)
    moved = np.stack([np.roll(usual, lag) for lag in lags])
    spread = np.sqrt(((usual - usual.mean()) ** 2).sum() * ((course - course.mean()) ** 2).sum())
    if not spread > 0:
        return Fit(0, 0.0, 0.0)
    likeness = (moved - usual.mean()) @ (course - course.mean()) / spread
    best = int(np.argmax(likeness))
    return Fit(int(lags[best]), float(likeness[best]), float(likeness[reach]))
