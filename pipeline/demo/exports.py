"""Exports: the weekly files that the plant's control system would write, in two layouts.

One column a tag (water, wastewater): month-first wall clock, nothing in a cell where nothing was recorded.
One row a reading (wells): ISO times with offset and the quality numbers of classic OPC.
"""

from collections.abc import Iterator
from datetime import date, datetime
from pathlib import Path

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.demo.calendar import BoolArray, Calendar
from pipeline.demo.readings import in_export
from pipeline.demo.sheets import Sheets, Tag
from pipeline.demo.water import Signals

WIDE = {
    "water": ("intake", "pretreatment", "filters", "clearwell", "distribution"),
    "wastewater": ("lift", "reactors", "effluent"),
}
LONG = {"wells": ("wells",)}
GOOD, UNCERTAIN, COMM_FAILURE = 192, 64, 24
HEARTBEAT_H = 1.0


def weekly(calendar: Calendar) -> Iterator[tuple[str, slice]]:
    """Yield the name of each ISO week and its part of the grid: local Monday 00:00 to the next."""
    days = calendar.wall.astype("datetime64[D]").astype(np.int64)
    week = (days + 3) // 7
    starts = np.flatnonzero(np.diff(week, prepend=week[0] - 1))
    for start, end in zip(starts, [*starts[1:], len(calendar)], strict=True):
        monday: date = calendar.wall[start].astype(datetime).date()
        year, number, _ = monday.isocalendar()
        yield f"{year}-W{number:02d}", slice(int(start), int(end))


def texts(tag: Tag, values: Signals) -> pl.Series:
    """Return a tag's readings as the text in its cells; null where nothing was recorded."""
    shown = pl.Series(tag.export_name, in_export(tag, values[tag.tag])).fill_nan(None)
    if tag.decimals == 0:
        return shown.cast(pl.Int64).cast(pl.String)
    return shown.cast(pl.String).str.strip_suffix(".0")


def write_trends(folder: Path, calendar: Calendar, sheets: Sheets, readings: Signals) -> None:
    """Write every weekly file of the record into `folder`."""
    folder.mkdir(parents=True, exist_ok=True)
    wall = calendar.local.dt.strftime("%m/%d/%Y %H:%M").alias("Time")
    for name, areas in WIDE.items():
        columns = [texts(tag, readings) for tag in sheets.tags.values() if tag.area in areas]
        table = pl.DataFrame([wall, *columns])
        for week, part in weekly(calendar):
            table[part].write_csv(folder / f"{name}-{week}.csv")
    for name, areas in LONG.items():
        tags = [tag for tag in sheets.tags.values() if tag.area in areas]
        table = one_row_a_reading(calendar, tags, readings)
        for week, part in weekly(calendar):
            inside = table.filter(pl.col("at").is_between(part.start, part.stop, closed="left"))
            inside.drop("at", "order").write_csv(folder / f"{name}-{week}.csv")


def one_row_a_reading(calendar: Calendar, tags: list[Tag], readings: Signals) -> pl.DataFrame:
    """Return the long table, in order of time and tag, with the grid position as `at`."""
    times = calendar.local.dt.strftime("%Y-%m-%dT%H:%M:%S%:z")
    parts = []
    for order, tag in enumerate(tags):
        missing = np.isnan(readings[tag.tag])
        kept = _kept(calendar, tag, readings, missing)
        rows = pl.DataFrame(
            {
                "at": np.arange(len(calendar)),
                "order": np.full(len(calendar), order),
                "Time": times,
                "Tag": np.full(len(calendar), tag.export_name),
                "Value": texts(tag, readings),
                "Quality": _quality(tag, readings, missing),
            }
        )
        parts.append(rows.filter(pl.Series(kept)))
    return pl.concat(parts).sort("at", "order")


def _kept(calendar: Calendar, tag: Tag, readings: Signals, missing: BoolArray) -> BoolArray:
    """Return which readings the recorder writes.

    In a communication failure it writes empty rows for the first half and then nothing. A tag recorded
    on change has a row where it changes, one every hour, and one when the link comes back.
    """
    if tag.recording == "on change":
        values = np.where(missing, -1.0, readings[tag.tag])
        changed = np.diff(values, prepend=-2.0) != 0.0
        hourly = calendar.hour % HEARTBEAT_H == 0.0
        return np.asarray((changed | hourly) & ~missing)
    length = np.zeros(len(missing), dtype=np.int64)
    edges = np.flatnonzero(np.diff(missing.astype(np.int8), prepend=0, append=0))
    for start, end in zip(edges[::2], edges[1::2], strict=True):
        length[(start + end) // 2 : end] = 1
    return np.asarray(length == 0)


def _quality(tag: Tag, readings: Signals, missing: BoolArray) -> NDArray[np.int64]:
    """Return quality numbers; chlorine is uncertain until the sample line of a starting well is flushed."""
    pumps = readings["YS-201"] + readings["YS-202"]
    starting = (pumps > 0) & (np.concatenate([[np.nan], pumps[:-1]]) == 0)
    unflushed = starting & ~missing & (tag.measures == "chlorine")
    return np.where(missing, COMM_FAILURE, np.where(unflushed, UNCERTAIN, GOOD))
