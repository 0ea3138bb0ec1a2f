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


def run_on_together(rows: pl.DataFrame, wall: pl.Series, zone: tzinfo) -> bool:
    """Whether the lines of several tags follow one clock, which steps back once in each repeated hour.

    Then its step tells the passes apart for a tag, too, that has few readings in them, as one that is
    recorded on change. Of one tag after the other, each has steps of its own.

    Parameters
    ----------
    rows : DataFrame
        Columns `tag` and `line`.
    wall : Series
        Their times by the plant's clock, null where there are none.
    """
    several = bool((rows["tag"] != rows["tag"][0]).any()) if rows.height else False
    if not several or not isinstance(zone, ZoneInfo) or not _run_one_way(rows["line"]):
        return False
    frame = rows.select("tag").with_columns(wall.alias("wall")).drop_nulls()
    times = frame["wall"]
    back = np.flatnonzero(np.diff(times.to_physical().to_numpy()) < 0)
    twice = (in_zone(times, zone, "earliest") != in_zone(times, zone, "latest")).fill_null(False)
    days = times.dt.date()
    nights = days.filter(twice).unique().sort()
    if nights.is_empty() or days[back].to_list() != nights.to_list():
        return False
    if not (twice[back] & twice[back + 1]).all():
        return False
    place = pl.int_range(len(times), eager=True)
    for day, at in zip(nights, back, strict=True):
        first, second = (
            set(frame["tag"].filter(twice & (days == day) & passed)) for passed in (place <= at, place > at)
        )
        if first.isdisjoint(second):
            return False
    return True


def _run_one_way(lines: pl.Series) -> bool:
    steps = np.diff(lines.to_numpy().astype(np.int64))
    return bool((steps > 0).all() or (steps < 0).all())
