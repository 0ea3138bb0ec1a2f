"""Grid: one tag's record on quarter hours, on the scale on which its departures add up.

What is stuck stays in it: that a reading was stuck is known only later, and what was said of an hour must
not change. Bad readings, and those of another operating state, are left out.
"""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.case import Case
from pipeline.clock import to_local
from pipeline.config.tags import Tag
from pipeline.epoch import MICROSECOND, epoch_us
from pipeline.upsets.usual import SLOT_MINUTES, course, departures

Floats = NDArray[np.float64]

SLOT = timedelta(minutes=SLOT_MINUTES)
BAND_SD = 2.0
_LEAST_SHARE = 1e-3
"""Of an instrument's span: no flow or turbidity is taken for smaller, so that nothing has a logarithm."""


@dataclass(frozen=True)
class Grid:
    """Quarter hours from `start` on, `count` of them."""

    start: datetime
    count: int

    def from_midnight(self, zone: tzinfo) -> "Grid":
        """Return the grid from the midnight of standard time before it on."""
        local = self.start.astimezone(zone)
        standard = local.replace(tzinfo=None) - (local.dst() or timedelta())
        slots = timedelta(hours=standard.hour, minutes=standard.minute) // SLOT
        return Grid(self.start - slots * SLOT, self.count + slots)

    @property
    def times(self) -> pl.Series:
        """Every quarter hour."""
        first = epoch_us(self.start)
        step = SLOT // MICROSECOND
        stamps = pl.Series("time", first + np.arange(self.count, dtype=np.int64) * step)
        return stamps.cast(pl.Datetime("us")).dt.replace_time_zone("UTC")

    def at(self, instant: datetime) -> int:
        """Position of the quarter hour that holds `instant`."""
        return (instant - self.start) // SLOT

    def time(self, at: int) -> datetime:
        """Return the instant at which the quarter hour `at` begins."""
        return self.start + at * SLOT


def grid_between(start: datetime, end: datetime) -> Grid:
    """Return the quarter hours from the full hour at or before `start` until `end`."""
    hour = start.astimezone(UTC).replace(minute=0, second=0, microsecond=0)
    return Grid(hour, max(-((hour - end) // SLOT), 0))


def departures_of(case: Case, grid: Grid, since: int = 0) -> Floats:
    """Return the departures of a tag on the grid [sd], from position `since` on; NaN where not known."""
    return departures(values_on(case, grid), *_wall(case, grid), _least_sd(case.tag), since)


def usual_of(case: Case, grid: Grid, start: datetime) -> pl.DataFrame:
    """Return ``time, expected, low, high`` from `start` on: the usual reading, two sds about it [unit]."""
    since = max(grid.at(start), 0)
    usual = course(values_on(case, grid), *_wall(case, grid), _least_sd(case.tag), since)
    edges = {
        "expected": usual.expected,
        "low": usual.expected - BAND_SD * usual.sd,
        "high": usual.expected + BAND_SD * usual.sd,
    }
    shown = {name: np.exp(edge) if case.tag.is_log_scaled else edge for name, edge in edges.items()}
    frame = pl.DataFrame({"time": grid.times, **shown}).fill_nan(None)
    return frame.filter(pl.col("time") >= start)


def _wall(case: Case, grid: Grid) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Local day and quarter of the day."""
    local = grid.times.to_frame().select(to_local(pl.col("time"), case.zone).alias("local"))["local"]
    minutes = local.dt.hour().cast(pl.Int64) * 60 + local.dt.minute()
    day = local.dt.date().cast(pl.Int32).to_numpy().astype(np.int64)
    return day, minutes.to_numpy() // SLOT_MINUTES


def values_on(case: Case, grid: Grid) -> Floats:
    """Return the readings that count on the grid [working scale]; NaN where there is none."""
    rows = case.readings.select("time", _working(case.tag).alias("x"))
    short = case.tag.recording == "interval" and case.step < SLOT
    found = _medians(rows, grid) if short else _standing(rows, grid, _reach(case))
    return found.fill_null(float("nan")).to_numpy().astype(np.float64)


def _working(tag: Tag) -> pl.Expr:
    value = pl.col("value")
    counts = pl.col("good") & pl.col("in_state") & value.is_finite()
    if tag.low is not None:
        counts &= value >= tag.low
    if tag.high is not None:
        counts &= value <= tag.high
    return pl.when(counts).then(value.clip(_floor(tag)).log() if tag.is_log_scaled else value)


def _floor(tag: Tag) -> float:
    return max(tag.resolution or 0.0, _LEAST_SHARE * (tag.high or 0.0), 1e-6)


def _least_sd(tag: Tag) -> float:
    """Half a step of the instrument; for logarithms half a per cent."""
    return 0.005 if tag.is_log_scaled else max((tag.resolution or 0.0) / 2, 1e-9)


def _reach(case: Case) -> timedelta:
    """How far back a reading may lie to stand for a quarter hour."""
    length = case.hold if case.tag.recording == "on change" else max(case.step, SLOT)
    return length - MICROSECOND


def _medians(rows: pl.DataFrame, grid: Grid) -> pl.Series:
    inside = rows.filter(pl.col("time") >= grid.start)
    slots = inside.group_by(pl.col("time").dt.truncate(f"{SLOT_MINUTES}m")).agg(pl.col("x").median())
    return grid.times.to_frame().join(slots, on="time", how="left", maintain_order="left")["x"]


def _standing(rows: pl.DataFrame, grid: Grid, reach: timedelta) -> pl.Series:
    every = grid.times.to_frame()
    return every.join_asof(rows, on="time", strategy="backward", tolerance=reach)["x"]
