"""Pairs: each lab grab beside what the instrument showed when it was taken."""

from datetime import timedelta

import polars as pl

from pipeline.case import PAIRS
from pipeline.table import conform, empty

READINGS_AROUND = 5
"""Median of so many readings stands for the instrument: the moment of a grab is not known to the minute."""


def pairs(readings: pl.DataFrame, grabs: pl.DataFrame, step: timedelta, days: pl.Expr) -> pl.DataFrame:
    """Match grabs to the record.

    Parameters
    ----------
    readings : DataFrame of READINGS
    grabs : DataFrame
        ``time, value`` of this tag [unit of the tag].
    step : timedelta
        Nominal time between readings.
    days : polars expression
        Local date of the column ``time``.

    Returns
    -------
    DataFrame of PAIRS
        Grabs for which at least three of the five readings around them are usable.
    """
    reach = step * (READINGS_AROUND // 2) + step / 2
    usable = readings.filter("usable").select("time", "value")
    if grabs.height == 0 or usable.height == 0:
        return empty(PAIRS)
    taken = grabs.sort("time").with_row_index("grab_row").with_columns(
        (pl.col("time") - reach).alias("low"), (pl.col("time") + reach).alias("high")
    )
    matched = usable.rename({"time": "at", "value": "reading"}).join_where(
        taken, pl.col("at") >= pl.col("low"), pl.col("at") <= pl.col("high")
    )
    found = (
        matched.group_by("grab_row", "time", pl.col("value").alias("grab"))
        .agg(pl.col("reading").median(), pl.len().alias("n"))
        .filter(pl.col("n") >= (READINGS_AROUND + 1) // 2)
        .sort("grab_row")
    )
    return conform(found.with_columns(days.alias("day")), PAIRS)
