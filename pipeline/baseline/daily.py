"""Daily: one robust value a day, so that a day without its nights is not taken for a change."""

from datetime import timedelta, tzinfo

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.baseline.blocks import BLOCK_DAYS, blocks_of
from pipeline.baseline.scale import working
from pipeline.baseline.stuck import counted
from pipeline.baseline.wall import wall_us
from pipeline.clock import to_local
from pipeline.config.tags import Tag
from pipeline.facts import DAILY
from pipeline.spc.robust import medians
from pipeline.table import empty

HABIT_BLOCKS = 6
"""Blocks of the past from which the hour-of-day habit is learned: half a year."""

FEWEST_HABIT_DAYS = 7
SMALLEST_SHARE = 0.125
"""Share of a day's readings that must be usable for the day to have a value: three hours of a plant that runs
when its tank asks. Common practice, no source."""

FEWEST_READINGS = 4
_HOUR_US = 3_600_000_000
_DAY_HOURS = 24

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


def fewest_of_a_day(pace: timedelta, least: int = FEWEST_READINGS) -> int:
    """Return how many readings make a day, of a tag that has one every `pace`; never fewer than `least`."""
    return max(least, int(SMALLEST_SHARE * timedelta(days=1) / pace))


def daily_values(tag: Tag, readings: pl.DataFrame, stuck: pl.DataFrame, zone: tzinfo) -> pl.DataFrame:
    """Reduce the record to one value a local day.

    Parameters
    ----------
    tag : Tag
        Decides the working scale (`pipeline.baseline.scale`).
    readings : DataFrame of READINGS
    stuck : DataFrame of STUCK
        A stuck reading is left out of its day once the run had given itself away by the day's end.
    zone : tzinfo
        Whose days.

    Returns
    -------
    DataFrame of DAILY
        One row a day from the first reading to the last; `value` is the median of the usable
        readings less the habit of their hour, `level` their plain median [unit of the tag].
    """
    if readings.height == 0:
        return empty(DAILY)
    points = _points(tag, readings, stuck, zone)
    points = points.with_columns((pl.col("x") - _habit(points)).alias("x"))
    fewest = fewest_of_a_day(tag.pace)
    days = points.group_by("day", maintain_order=True).agg(
        pl.col("x").median().alias("value"),
        pl.len().cast(pl.UInt32).alias("readings"),
        pl.col("value").median().alias("level"),
    )
    days = days.with_columns(pl.col("day").cast(pl.Date))
    enough = pl.col("readings") >= fewest
    first, last = (readings["time"][place].astimezone(zone).date() for place in (0, -1))
    every = pl.date_range(first, last, interval="1d", eager=True).alias("day").to_frame()
    return every.join(days, on="day", how="left").select(
        "day",
        pl.when(enough).then("value").alias("value"),
        pl.col("readings").fill_null(0),
        pl.when(enough).then("level").alias("level"),
    )


def _points(tag: Tag, readings: pl.DataFrame, stuck: pl.DataFrame, zone: tzinfo) -> pl.DataFrame:
    """Usable readings with their working value, local day and hour, both counted since 1970."""
    counts = counted(readings, stuck, to_local(pl.col("time"), zone).dt.date())
    points = readings.select("time", "value", working(tag, pl.col("value")).alias("x"))
    points = points.filter(counts & points["x"].is_not_null())
    hour = wall_us(points["time"].dt.epoch("us").to_numpy(), zone) // _HOUR_US
    clock = {"day": hour // _DAY_HOURS, "hour": hour}
    return points.select("value", "x", *(_counted_up(name, at) for name, at in clock.items()))


def _counted_up(name: str, numbers: Ints) -> pl.Series:
    """Return ascending numbers as a column that needs no search for those that are alike."""
    column = pl.Series(name, numbers.astype(np.int32))
    return column.set_sorted() if column.is_sorted() else column


def _habit(points: pl.DataFrame) -> Floats:
    """Usual departure from its day's median at the hour of each of `points`; 0 where too little is known."""
    if points.height == 0:
        return np.zeros(0)
    departure = pl.col("x") - pl.col("x").median().over("day")
    by_hour = points.select("hour", departure).group_by("hour", maintain_order=True).agg(pl.col("x").median())
    first, last = (int(points["day"][place]) for place in (0, -1))
    day = np.arange(first, last + 1)
    departures = np.full((len(day), _DAY_HOURS), np.nan)
    departures.reshape(-1)[by_hour["hour"].to_numpy() - first * _DAY_HOURS] = by_hour["x"].to_numpy()
    # The first day of 1970 was a Thursday.
    is_weekend = (day + 3) % 7 >= 5
    habit = np.zeros_like(departures)
    for kind in (is_weekend, ~is_weekend):
        habit[kind] = _usual(day[kind].astype(np.float64), departures[kind])
    return np.asarray(habit.reshape(-1)[points["hour"].to_numpy() - first * _DAY_HOURS])


def _usual(day: Floats, departures: Floats) -> Floats:
    """Median of each hour over the half year before each day's block; 0 where too few days know the hour."""
    usual = np.zeros_like(departures)
    for begin, here in blocks_of(day):
        past = slice(int(np.searchsorted(day, begin - HABIT_BLOCKS * BLOCK_DAYS)), here.start)
        if past.stop - past.start >= FEWEST_HABIT_DAYS:
            found = medians(departures[past], FEWEST_HABIT_DAYS)
            usual[here] = np.where(np.isfinite(found), found, 0.0)
    return usual
