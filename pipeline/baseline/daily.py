"""Daily: one robust value a day, so that a day without its nights is not taken for a change."""

from datetime import tzinfo

import numpy as np
import polars as pl

from pipeline.baseline.blocks import block_number
from pipeline.baseline.scale import working
from pipeline.baseline.stuck import counted
from pipeline.baseline.wall import wall_us
from pipeline.case import DAILY
from pipeline.clock import to_local
from pipeline.config.tags import Tag
from pipeline.table import empty

HABIT_BLOCKS = 6
"""Blocks of the past from which the hour-of-day habit is learned: half a year."""

FEWEST_HABIT_DAYS = 7
SMALLEST_SHARE = 0.25
"""Share of a day's readings that must be usable for the day to have a value."""

FEWEST_READINGS = 4
_HOUR_US = 3_600_000_000
_DAY_US = 24 * _HOUR_US


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
    with_habit = points.join(_habits(points), on=["block", "weekend", "hour"], how="left")
    fewest = max(FEWEST_READINGS, int(SMALLEST_SHARE * 86_400 / tag.step_s))
    days = with_habit.group_by("day").agg(
        (pl.col("x") - pl.col("habit").fill_null(0.0)).median().alias("value"),
        pl.len().cast(pl.UInt32).alias("readings"),
        pl.col("value").median().alias("level"),
    )
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
    """Usable readings with their working value, local day, hour, weekend and block."""
    days = to_local(pl.col("time"), zone).dt.date()
    points = readings.filter(counted(readings, stuck, days)).select(
        "time", "value", working(tag, pl.col("value")).alias("x")
    )
    points = points.drop_nulls("x")
    wall = wall_us(points["time"].dt.epoch("us").to_numpy(), zone)
    day, clock = np.divmod(wall, _DAY_US)
    dated = points.select(
        "value",
        "x",
        pl.Series("day", day.astype(np.int32)).cast(pl.Date),
        pl.Series("hour", (clock // _HOUR_US).astype(np.int8)),
        # The first day of 1970 was a Thursday.
        pl.Series("weekend", (day + 3) % 7 >= 5),
    )
    return dated.with_columns(block_number(pl.col("day")).alias("block"))


def _habits(points: pl.DataFrame) -> pl.DataFrame:
    """Usual departure of each hour from its day's median, for every block from the blocks before it."""
    departures = points.with_columns((pl.col("x") - pl.col("x").median().over("day")).alias("departure"))
    reach = pl.int_ranges(pl.col("block") + 1, pl.col("block") + 1 + HABIT_BLOCKS)
    by_hour = _by_hour(departures)
    spread = by_hour.with_columns(reach.alias("for_block")).explode("for_block")
    learned = spread.group_by("for_block", "weekend", "hour").agg(
        pl.col("departure").median().alias("habit"), pl.col("day").n_unique().alias("days")
    )
    habits = learned.filter(pl.col("days") >= FEWEST_HABIT_DAYS)
    return habits.select(pl.col("for_block").cast(pl.Int32).alias("block"), "weekend", "hour", "habit")


def _by_hour(departures: pl.DataFrame) -> pl.DataFrame:
    """Median departure of every hour of every day; that hours follow each other spares a search for them."""
    hour = departures.select((pl.col("day").cast(pl.Int32) * 24 + pl.col("hour")).alias("one"))["one"]
    following = departures.with_columns(hour.set_sorted() if hour.is_sorted() else hour)
    kept = [pl.col(name).first() for name in ("block", "weekend", "hour", "day")]
    return following.group_by("one", maintain_order=True).agg(*kept, pl.col("departure").median()).drop("one")
