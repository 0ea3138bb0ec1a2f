"""Upset families: eight tags of one flow path, five of which move one after the other.

The noise is that of `benchmarks.families` (A: one memory, normal shocks; B: three memories, heavy tails,
bursts, another rhythm), here with memories of one to twelve hours, so that beginnings have to be found in
noise as fast as themselves. Sizes count in sds of that noise.
"""

from dataclasses import dataclass

import numpy as np

from benchmarks.families import FAMILIES, STEPS_A_DAY, Clock, Family, Floats, rhythm, wander
from pipeline.upsets.usual import departures

TAGS, MOVERS = 8, 5
DAYS = 112
FIRST_DAY = 19_905  # Monday 1 July 2024
SLOWEST_LAG = 8
"""Quarter hours from one mover to the next: 15 to 120 minutes."""
LATEST_NOTICE = 16
RHYTHM_SD = 1.5


@dataclass(frozen=True)
class Path:
    """One upset on one flow path.

    Parameters
    ----------
    z : (tags, n) array [sd]
        Departures.
    root : int
        Tag that moved first.
    onsets : (tags,) array of int
        Position at which each began to move; -1 for those that did not.
    anchor : int
        Where somebody noticed.
    """

    z: Floats
    root: int
    onsets: np.ndarray
    anchor: int


def clock(days: int) -> Clock:
    """Return the grid of so many days."""
    day = np.arange(days * STEPS_A_DAY) / STEPS_A_DAY
    return Clock(day, (day % 1.0) * 24.0, (np.floor(day) % 7) >= 5)


def quiet(random: np.random.Generator, family: Family, grid: Clock) -> Floats:
    """One tag in which nothing happens: noise of unit sd on its course over the day."""
    hours = float(np.exp(random.uniform(np.log(1.0), np.log(12.0))))
    noise = wander(random, family, len(grid.day), hours / 24.0)
    scale = np.sqrt(sum(share**2 for share in family.shares))
    return noise / scale + RHYTHM_SD * random.uniform(0.3, 1.0) * rhythm(family, grid)


def as_departures(values: Floats) -> Floats:
    """Return departures as the job computes them, row by row."""
    n = values.shape[1]
    at = np.arange(n)
    day, slot = FIRST_DAY + at // STEPS_A_DAY, at % STEPS_A_DAY
    return np.stack([departures(row, day, slot, 0.005) for row in values])


def path(seed: int, name: str, size_sd: float) -> Path:
    """Make one upset: tag after tag begins to move, each ramping to its plateau in its own time."""
    random = np.random.default_rng(seed)
    family, grid = FAMILIES[name], clock(DAYS)
    values = np.stack([quiet(random, family, grid) for _ in range(TAGS)])
    n = values.shape[1]
    begin = n - int(random.integers(2 * STEPS_A_DAY, 8 * STEPS_A_DAY))
    order = random.permutation(TAGS)[:MOVERS]
    lags = np.concatenate([[0], random.integers(1, SLOWEST_LAG + 1, MOVERS - 1)])
    onsets = np.full(TAGS, -1)
    for tag, at in zip(order, begin + np.cumsum(lags), strict=True):
        onsets[tag] = at
        rise = random.uniform(1.0, 6.0)  # time constant, 15 to 90 minutes
        since = np.arange(n) - at + 1.0
        shape = np.where(since > 0, 1.0 - np.exp(-np.maximum(since, 0.0) / rise), 0.0)
        values[tag] += random.choice([-1.0, 1.0]) * size_sd * shape
    anchor = begin + int(random.integers(0, LATEST_NOTICE + 1))
    return Path(as_departures(values), int(order[0]), onsets, anchor)
