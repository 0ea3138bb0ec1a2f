"""Signal: what a tag's readings do within each day, as plain arrays that the checks share.

A reading counts here as it did at the end of its own day (`pipeline.baseline.stuck.counted`): nothing
that is learned later moves a figure of an earlier day.
"""

from dataclasses import dataclass
from datetime import date, datetime, tzinfo
from functools import cached_property
from typing import Any

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.baseline.daily import fewest_of_a_day
from pipeline.baseline.scale import working
from pipeline.baseline.stuck import counted
from pipeline.baseline.wall import wall_us
from pipeline.case import Case
from pipeline.clock import midnight, to_local
from pipeline.epoch import MICROSECOND, date_of, day_number, instant_of

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

DAY_US = 86_400_000_000
FEWEST_READINGS = 8
CLIP_MEANS = 2.0
"""Distances are clipped at so many of their day's mean: a jump, or a pump that starts, is no noise."""

DISPLAY_DAYS = 7
"""A week's smallest step is the display's: a calm day alone may skip one."""

DUST = 1e-9
"""Share of the range below which two values are one value written twice."""


@dataclass(frozen=True)
class Signal:
    """The readings that counted, and one figure a local day.

    Parameters
    ----------
    first_day : int
        Local day of row 0 [days since 1970-01-01]; rows are days without holes in the calendar.
    time_us, value, x, row : (m,) arrays
        Instant [us since 1970, UTC], value [unit], value on the working scale, row of its day.
    local_us : (m,) array
        What the wall clock showed [us since 1970].
    joined : (m,) array of bool
        Whether a reading follows the one before it within two steps.
    readings : (n,) array
        How many counted on each day.
    roughness : (n,) array
        Log of the rms of the readings' clipped distances from the middle of their two neighbours; NaN where
        too few counted.
    repeats : (n,) array
        Share of readings equal to the one before; NaN where too few counted.
    """

    first_day: int
    time_us: Ints
    local_us: Ints
    value: Floats
    x: Floats
    row: Ints
    joined: Bools
    readings: Ints
    roughness: Floats
    repeats: Floats

    @property
    def days(self) -> int:
        """Days from the first reading to the last."""
        return len(self.readings)

    @cached_property
    def starts(self) -> Ints:
        """Which reading is the first of each day that has any."""
        return np.flatnonzero(np.append(True, self.row[1:] != self.row[:-1]))

    @cached_property
    def twice(self) -> Ints:
        """Which readings repeat the one before, of the same day."""
        again = (self.value[1:] == self.value[:-1]) & self.joined[1:]
        again[self.starts[1:] - 1] = False
        return 1 + np.flatnonzero(again)

    def date(self, row: int) -> date:
        """Local day of a row."""
        return date_of(self.first_day + int(row))

    def begin(self, row: int, zone: tzinfo) -> datetime:
        """Instant at which the day of a row begins [UTC]."""
        return midnight(self.date(row), zone)

    def stretch(self, begin: int, end: int | None, zone: tzinfo) -> tuple[datetime, datetime | None]:
        """Instants at which the days of two rows begin [UTC]; None for an end that has not come."""
        return self.begin(begin, zone), None if end is None else self.begin(end, zone)

    def instant(self, at: int) -> datetime:
        """Instant of a reading [UTC]."""
        return instant_of(self.time_us[at])

    @property
    def day(self) -> Floats:
        """Local days [days since 1970-01-01]."""
        return self.first_day + np.arange(self.days, dtype=np.float64)


def signal_of(case: Case) -> Signal | None:
    """Return the signal of a case, worked out once; None where it is a state or nothing counts."""
    return case.once(_signal)


def _signal(case: Case) -> Signal | None:
    if case.tag.is_state or case.regular.height == 0:
        return None
    counts = counted(case.regular, case.stuck, to_local(pl.col("time"), case.zone).dt.date())
    points = case.regular.select("time", "value").filter(counts)
    points = points.select(
        pl.col("time").to_physical(), "value", working(case.tag, pl.col("value")).alias("x")
    )
    first_day, last_day = (_day_of(case, place) for place in (0, -1))
    if points["x"].null_count():
        points = points.drop_nulls("x")
    if points.height == 0:
        return None
    time, value, x = (points[name].to_numpy() for name in ("time", "value", "x"))
    local_us = wall_us(time, case.zone)
    row = local_us // DAY_US
    row -= first_day
    days = last_day - first_day + 1
    joined = np.append(False, np.diff(time) <= 2 * (case.pace // MICROSECOND))
    roughness, repeats = _steps(case, x, value, row, joined, days)
    readings = np.bincount(row, minlength=days)
    return Signal(first_day, time, local_us, value, x, row, joined, readings, roughness, repeats)


def _day_of(case: Case, place: int) -> int:
    """Local day of one of the readings, whether it counts or not."""
    return int(day_number(case.regular["time"][place].astimezone(case.zone).date()))


def fewest_of(case: Case) -> int:
    """Return how many readings a day must hold to have a figure."""
    return fewest_of_a_day(case.pace, FEWEST_READINGS)


def _steps(
    case: Case, x: Floats, value: Floats, row: Ints, joined: Bools, days: int
) -> tuple[Floats, Floats]:
    """Roughness and share of repeats of each day."""
    both = joined[1:-1] & joined[2:]
    # It belongs to the day on which the later neighbour was known.
    by_day = _Days(row[2:][both], days)
    # Against the middle of both neighbours: the slope of a rhythm or a storm is no noise.
    off = x[:-2] + x[2:]
    off *= 0.5
    off -= x[1:-1]
    step = np.abs(off, out=off)[both]
    count = by_day.count
    enough = count >= fewest_of(case)
    per = np.where(count > 0, count, 1.0)
    for _ in range(3):
        mean = by_day.total(step) / per
        np.minimum(step, by_day.each(CLIP_MEANS * mean), out=step)
    power = by_day.total(np.square(step, out=step)) / per
    same = by_day.total((value[1:-1] == value[:-2])[both]) / per
    power = np.maximum(power, _least_power(case, value, row, days))
    known = enough & (power > 0) & (same < 1.0)
    roughness = np.full(days, np.nan)
    roughness[known] = 0.5 * np.log(power[known])
    return roughness, np.where(enough, same, np.nan)


class _Days:
    """Sums over the days of readings in the order of time, run after run of one day."""

    def __init__(self, row: Ints, days: int) -> None:
        self._begins = np.flatnonzero(np.append(True, row[1:] != row[:-1])) if len(row) else np.empty(0, int)
        self._lengths = np.diff(self._begins, append=len(row))
        self._row, self._days = row[self._begins], days

    @property
    def count(self) -> Floats:
        """Readings of each day."""
        return self._of_days(self._lengths)

    def total(self, values: Floats | Bools) -> Floats:
        """Sum of each day."""
        return self._of_days(
            np.add.reduceat(values, self._begins, dtype=np.float64) if len(values) else values
        )

    def _of_days(self, sums: NDArray[Any]) -> Floats:
        return np.asarray(np.bincount(self._row, sums, self._days), np.float64)

    def each(self, figure: Floats) -> Floats:
        """Return each day's figure, reading by reading."""
        return np.repeat(figure[self._row], self._lengths)


def _least_power(case: Case, value: Floats, row: Ints, days: int) -> Floats:
    """Power that rounding alone may take away or give: a quarter of the resolution, squared."""
    quarter = 0.25 * (case.tag.resolution or 0.0)
    if not case.tag.is_log_scaled:
        return np.full(days, quarter**2)
    level = np.bincount(row, value, days) / np.maximum(np.bincount(row, minlength=days), 1)
    return (quarter / np.where(level > 0, level, np.inf)) ** 2


def grains_of(case: Case) -> Floats:
    """Smallest difference between any two values of each day [unit], worked out once; NaN where none."""
    return case.once(_grains)


def steps_of(case: Case, signal: Signal) -> Floats:
    """Step of the display as the last seven days up to each showed it [unit], at least as tags.csv has it."""
    grain = np.append(np.full(DISPLAY_DAYS - 1, np.nan), grains_of(case))
    days = np.lib.stride_tricks.sliding_window_view(np.where(np.isfinite(grain), grain, np.inf), DISPLAY_DAYS)
    shown = days.min(axis=1)
    return np.maximum(np.where(np.isfinite(shown), shown, 0.0), case.tag.resolution or 0.0)


def _grains(case: Case) -> Floats:
    signal = signal_of(case)
    assert signal is not None
    low, high = float(signal.value.min()), float(signal.value.max())
    width = high - low
    grain = np.full(signal.days, np.nan)
    if width <= 0:
        return grain
    # One sort for all days: the day before the point, the value behind it.
    keys = signal.value - low
    keys *= 0.5
    keys /= width
    keys += signal.row
    keys.sort()
    gap = np.full(len(keys), np.inf)
    np.subtract(keys[1:], keys[:-1], out=gap[:-1])
    # What differs by no more is the same value, and the next day is another matter.
    gap[gap <= DUST] = np.inf
    gap[signal.starts[1:] - 1] = np.inf
    smallest = np.minimum.reduceat(gap, signal.starts)
    grain[signal.row[signal.starts]] = np.where(np.isfinite(smallest), smallest * 2.0 * width, np.nan)
    return grain


def slots(signal: Signal, count: int = 96) -> Floats:
    """Return the mean reading of each slot of each local day, (n, count) [working scale]; NaN where none."""
    at = signal.local_us - signal.first_day * DAY_US
    at //= DAY_US // count
    size = signal.days * count
    number = np.bincount(at, minlength=size)
    mean = np.asarray(np.bincount(at, signal.x, size), np.float64)
    with np.errstate(invalid="ignore"):
        mean /= number
    return mean.reshape(signal.days, count)
