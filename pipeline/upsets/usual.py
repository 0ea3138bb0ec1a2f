"""Usual: how far a record departs from its own habit, hour by hour, in robust standard deviations.

Habit and scatter of a four-week block come from the eight weeks before it, the level from the week before
each hour: what a departure was judged to be never changes when later readings arrive.
"""

from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.baseline.blocks import BLOCK_DAYS, blocks_of
from pipeline.spc.robust import medians, robust_sd

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

SLOT_MINUTES = 15
SLOTS_AN_HOUR = 60 // SLOT_MINUTES
SLOTS_A_DAY = 24 * SLOTS_AN_HOUR

LEARN_DAYS = 2 * BLOCK_DAYS
LEVEL_HOURS = 168
FEWEST_LEVEL_HOURS = 24
FEWEST_LEARN_DAYS = 14
FEWEST_HABIT_DAYS = 5
SMOOTH_SLOTS = 5
USUAL_SHARE, USUAL_SD = 0.95, 1.96
"""Share of a normal distribution that lies within so many sds."""

MOST_SD = 12.7
"""Departures are cut here: beyond it nothing more is learned from them, and one byte holds them."""

LOOK_BACK_DAYS = LEARN_DAYS + BLOCK_DAYS + LEVEL_HOURS // 24 + 2
"""Record needed before the first departure, whatever the block it lies in."""


def departures(value: Floats, day: Ints, slot: Ints, least_sd: float, since: int = 0) -> Floats:
    """Return departures from the usual course.

    Parameters
    ----------
    value : (n,) array [working scale]
        On a grid of quarter hours that begins on a full hour; NaN where nothing counts.
    day, slot : (n,) arrays
        Local day (since 1970-01-01) and quarter of the local day.
    least_sd : float [working scale]
        Half a step of the instrument: no record scatters by less.
    since : int
        Position before which none are asked for.

    Returns
    -------
    (n,) array [sd]
        NaN in blocks that less than two weeks of record precede.

    Notes
    -----
    When the clocks change, people change with them and many machines do not. In a block that has to do with
    a change both courses are held against the record, by the wall clock and by one that runs on, and the
    smaller departure counts.
    """
    usual = course(value, day, slot, least_sd, since)
    return np.clip((value - usual.expected) / usual.sd, -MOST_SD, MOST_SD)


@dataclass(frozen=True)
class Course:
    """What a record usually does: `expected` and robust `sd`, (n,) arrays [working scale]; NaN: not known."""

    expected: Floats
    sd: Floats


def course(value: Floats, day: Ints, slot: Ints, least_sd: float, since: int = 0) -> Course:
    """Return the usual course; the arguments are those of `departures`."""
    expected, sd = np.full(len(value), np.nan), np.full(len(value), np.nan)
    for first, rows in blocks_of(day.astype(np.float64)):
        if rows.stop <= since:
            continue
        begin = int(np.searchsorted(day, first - LEARN_DAYS))
        begin += -begin % SLOTS_AN_HOUR
        part = slice(begin, rows.stop)
        block = _of_block(value[part], day[part], slot[part], int(first), least_sd)
        on = _running_on(day[part], slot[part])
        if on is not None:
            block = _nearer(value[part], block, _of_block(value[part], *on, int(first), least_sd))
        own = slice(len(block.sd) - (rows.stop - rows.start), None)
        expected[rows], sd[rows] = block.expected[own], block.sd[own]
    return Course(expected, sd)


def _nearer(value: Floats, one: Course, other: Course) -> Course:
    """Of two courses that from which the record departs less, quarter hour by quarter hour."""
    far, near = (np.abs(value - each.expected) / each.sd for each in (one, other))
    takes = near < far
    return Course(np.where(takes, other.expected, one.expected), np.where(takes, other.sd, one.sd))


def _running_on(day: Ints, slot: Ints) -> tuple[Ints, Ints] | None:
    """Day and quarter by a clock that does not change; None where the wall clock does not either."""
    wall = day * SLOTS_A_DAY + slot
    on = wall[0] + np.arange(len(wall))
    return None if wall[-1] == on[-1] else (on // SLOTS_A_DAY, on % SLOTS_A_DAY)


def _of_block(value: Floats, day: Ints, slot: Ints, first: int, least_sd: float) -> Course:
    """Course of a block and of the weeks it learns from; NaN where too little is known."""
    past = (day >= first - LEARN_DAYS) & (day < first)
    unknown = np.full(len(value), np.nan)
    habit = _habit(value[past], day[past] - (first - LEARN_DAYS), slot[past], first)
    if habit is None:
        return Course(unknown, unknown)
    expected = habit[_weekend(day).astype(np.int64), slot]
    expected = expected + _level(value - expected)
    spread = _scatter((value - expected)[past])
    return Course(expected, np.full(len(value), max(spread, least_sd) if np.isfinite(spread) else np.nan))


def _scatter(rest: Floats) -> float:
    """Robust sd, or what nineteen in twenty departures stay within over 1.96, if that is more.

    A record with two levels (a second pump that joins now and then) has a small median departure and many
    large ones, none of which is unusual.
    """
    known = np.abs(rest[np.isfinite(rest)])
    if known.size == 0:
        return float("nan")
    return max(robust_sd(rest), float(np.quantile(known, USUAL_SHARE)) / USUAL_SD)


def _weekend(day: Ints) -> Bools:
    return (day + 3) % 7 >= 5


def _habit(value: Floats, day: Ints, slot: Ints, first: int) -> Floats | None:
    """Usual departure from the day's median, (2, slots): working days and weekends."""
    table = np.full((LEARN_DAYS, SLOTS_A_DAY), np.nan)
    table[day, slot] = value
    known_days = np.isfinite(table).any(axis=1)
    if known_days.sum() < FEWEST_LEARN_DAYS:
        return None
    off = table - medians(table.T)[:, None]
    weekend = _weekend(np.arange(first - LEARN_DAYS, first))
    working_day = _course(off[~weekend])
    return np.stack([working_day, _course(off[weekend], working_day)])


def _course(off: Floats, instead: Floats | None = None) -> Floats:
    """Median over days of each quarter hour, smoothed round the clock; `instead` where days are too few."""
    course = medians(off)
    few = np.isfinite(off).sum(axis=0) < FEWEST_HABIT_DAYS
    course[few] = 0.0 if instead is None else instead[few]
    half = SMOOTH_SLOTS // 2
    wrapped = np.concatenate([course[-half:], course, course[:half]])
    return np.convolve(wrapped, np.full(SMOOTH_SLOTS, 1.0 / SMOOTH_SLOTS), mode="valid")


def _level(rest: Floats) -> Floats:
    """Median of the week before each hour, read from hourly medians."""
    whole = np.concatenate([rest, np.full(-len(rest) % SLOTS_AN_HOUR, np.nan)])
    hourly = pl.DataFrame({"x": medians(whole.reshape(-1, SLOTS_AN_HOUR).T)})
    level = pl.col("x").fill_nan(None).rolling_median(LEVEL_HOURS, min_samples=FEWEST_LEVEL_HOURS).shift(1)
    steps = hourly.select(level.fill_null(float("nan")))["x"].to_numpy()
    return np.asarray(np.repeat(steps, SLOTS_AN_HOUR)[: len(rest)], np.float64)
