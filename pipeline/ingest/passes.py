"""Passes: which readings fall into the hour that the clocks repeat, to be told apart across slabs."""

from datetime import UTC, datetime, time, timedelta, tzinfo
from zoneinfo import ZoneInfo

import numpy as np
import polars as pl

from pipeline.clock import in_zone, to_local

_MANY_DAYS = 400


def is_steady(times: pl.Series, zone: tzinfo) -> bool:
    """Whether the plant's clock surely keeps one offset from UTC over all of `times` and a day around."""
    first, last = times.min(), times.max()
    if not isinstance(first, datetime) or not isinstance(last, datetime):
        return False
    days = range(-1, (last - first).days + 3)
    if len(days) > _MANY_DAYS:
        return zone.utcoffset(None) is not None
    start = datetime.combine(first.astimezone(zone).date(), time(), tzinfo=UTC)
    return len({(start + timedelta(days=day)).astimezone(zone).utcoffset() for day in days}) == 1


def is_repeated(times: pl.Series, zone: tzinfo) -> pl.Series:
    """Mark the instants whose wall-clock time the plant's clock shows twice."""
    frame = times.alias("time").to_frame()
    if not isinstance(zone, ZoneInfo):
        return frame.select(pl.repeat(False, pl.len()).alias("repeated")).to_series()
    local = frame.select(to_local(pl.col("time"), zone)).to_series()
    return (in_zone(local, zone, "earliest") != in_zone(local, zone, "latest")).fill_null(False)


def runs_backwards(times: pl.Series) -> bool:
    """Whether more steps of `times` go back than on: one misplaced stamp does not turn a file round."""
    steps = np.diff(times.drop_nulls().to_physical().to_numpy())
    return bool(np.count_nonzero(steps < 0) > np.count_nonzero(steps > 0))
