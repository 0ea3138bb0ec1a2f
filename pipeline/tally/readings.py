"""Readings: the record as single readings, at the clock's marks or as they came, for rules that count them.

The integral of a held signal and a count of records are two different clocks. Rules that speak of
measurements (the share of them, two of them on end) count these; rules that speak of time use the integral.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.clock import Period
from pipeline.config.limits import Limit
from pipeline.episodes import Floats, Ints
from pipeline.epoch import MICROSECOND, epoch_us
from pipeline.margin import sides
from pipeline.record import Record

QUARTER_HOUR = timedelta(minutes=15)
FOUR_HOURS = 4


@dataclass(frozen=True)
class Readings:
    """Readings that were due: NaN where none can be had.

    Parameters
    ----------
    time : (n,) array of int [microseconds since 1970, UTC]
        Ascending.
    value : (n,) array [unit of the tag]
    """

    time: Ints
    value: Floats

    @property
    def known(self) -> "Readings":
        """Those that there are."""
        here = np.isfinite(self.value)
        return Readings(self.time[here], self.value[here])

    @property
    def coverage_pct(self) -> float:
        """Readings there are of readings due [%]."""
        return 100.0 * float(np.isfinite(self.value).mean()) if len(self.value) else 0.0

    def beyond(self, limit: Limit) -> NDArray[np.bool_]:
        """Which of them lie outside, each rounded as the limit says."""
        values = np.array([limit.rounded(v) if np.isfinite(v) else v for v in self.value.tolist()], float)
        outside = [side * (values - number) > 0 for number, side in sides(limit)]
        return np.logical_or.reduce(outside) if len(values) else np.zeros(0, bool)


def four_hourly(record: Record, start: datetime, end: datetime) -> Readings:
    """Return what stood at 00:00, 04:00 ... 20:00 of the plant's clock, six times a day.

    On the two nights of the time change one of the steps is three hours or five by the sun. Marks in
    masked time are not due; marks without a good reading are due and missing.
    """
    zone = record.case.zone
    period = Period("", start, min(end, record.case.as_of), zone)
    if period.end <= period.start:
        return _standing(record, np.zeros(0, np.int64))
    days = [begin.astimezone(zone).date() for begin, _ in period.days]
    marks = [
        datetime(day.year, day.month, day.day, hour, tzinfo=zone)
        for day in days
        for hour in range(0, 24, FOUR_HOURS)
    ]
    times = np.array([epoch_us(mark) for mark in marks], np.int64)
    inside = (times >= epoch_us(period.start)) & (times < epoch_us(period.end))
    return _standing(record, times[inside])


def quarter_hourly(record: Record, start: datetime, end: datetime) -> Readings:
    """Return the readings of a 15-minute record; of a faster one, what stood at every quarter of an hour.

    Of a slower record there are none.
    """
    step = record.case.step
    if step > QUARTER_HOUR:
        return Readings(np.zeros(0, np.int64), np.zeros(0))
    if step == QUARTER_HOUR and record.case.tag.recording == "interval":
        return every(record, start, end)
    return _standing(record, _marks(start, min(end, record.case.as_of), QUARTER_HOUR))


def every(record: Record, start: datetime, end: datetime) -> Readings:
    """Return every reading in service between two instants that stands in the record.

    A tag recorded on change is read off at its steps: its records lie close where it moves and far apart
    where it stands, so that their number tells nothing of the time.
    """
    until = min(end, record.case.as_of)
    if record.case.tag.recording == "on change":
        return _standing(record, _marks(start, until, record.case.pace)).known
    here = pl.col("time").is_between(start, until, closed="left")
    found = record.judged.filter(here & pl.col("good") & pl.col("value").is_finite())
    times = found["time"].dt.epoch("us").to_numpy()
    row, on_axis = _rows(record, times)
    on_axis[on_axis] = np.isfinite(record.held.value[row[on_axis]])
    return Readings(times[on_axis], found["value"].to_numpy()[on_axis])


def _marks(start: datetime, end: datetime, step: timedelta) -> Ints:
    """Return the whole steps since 1970 between two instants."""
    first, last, apart = epoch_us(start), epoch_us(end), step // MICROSECOND
    return np.arange(-(-first // apart) * apart, last, apart, dtype=np.int64)


def _standing(record: Record, times: Ints) -> Readings:
    row, on_axis = _rows(record, times)
    return Readings(times[on_axis], record.held.value[row[on_axis]])


def _rows(record: Record, times: Ints) -> tuple[Ints, NDArray[np.bool_]]:
    """Return which stretch holds each instant, and whether any does: masked time lies in none."""
    held = record.held
    row = np.searchsorted(held.start, times, side="right") - 1
    there = (
        (row >= 0) & (times < held.end[np.maximum(row, 0)]) if len(held.end) else np.zeros(len(times), bool)
    )
    return row, there
