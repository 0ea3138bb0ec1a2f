"""Calendar: the demo's time grid, even in UTC, read off a wall clock that changes twice a year."""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import cached_property
from zoneinfo import ZoneInfo

import numpy as np
import polars as pl
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
TimeArray = NDArray[np.datetime64]

ZONE = ZoneInfo("America/Denver")
END = "2026-11-16T00:00"
"""Wall clock at which every demo ends: a Monday, so the last whole ISO week is 2026-W46."""


def instant(when: str) -> datetime:
    """Return the UTC instant of a wall-clock text such as ``2026-11-11T13:15``."""
    return datetime.fromisoformat(when).replace(tzinfo=ZONE).astimezone(UTC)


def stamp(when: str) -> str:
    """Return a wall-clock text as ISO 8601 with its offset."""
    return datetime.fromisoformat(when).replace(tzinfo=ZONE).isoformat(timespec="seconds")


@dataclass(frozen=True)
class Calendar:
    """A regular grid of instants.

    Parameters
    ----------
    time : ndarray of datetime64[s], shape (n,)
        UTC, evenly spaced.
    step_minutes : int
        Spacing [min].
    """

    time: TimeArray
    step_minutes: int

    def __len__(self) -> int:
        return len(self.time)

    @cached_property
    def series(self) -> pl.Series:
        """The instants as a polars series with zone UTC."""
        return pl.Series("time", self.time.astype("datetime64[us]")).dt.replace_time_zone("UTC")

    @cached_property
    def local(self) -> pl.Series:
        """The same instants as seen on the plant's clock."""
        return self.series.dt.convert_time_zone(ZONE.key)

    @cached_property
    def wall(self) -> TimeArray:
        """Wall clock, without its zone; one hour repeats in autumn and one is missing in spring."""
        return self.local.dt.replace_time_zone(None).to_numpy().astype("datetime64[s]")

    @cached_property
    def hour(self) -> FloatArray:
        """Hour of the local day [h], 0 to 24."""
        seconds = (self.wall - self.wall.astype("datetime64[D]")).astype(np.float64)
        return np.asarray(seconds / 3600.0, dtype=np.float64)

    @cached_property
    def weekday(self) -> NDArray[np.int64]:
        """Day of the week, Monday = 0."""
        return (self.wall.astype("datetime64[D]").astype(np.int64) + 3) % 7

    @cached_property
    def day_of_year(self) -> FloatArray:
        """Days since the first of January, with fraction."""
        year = self.wall.astype("datetime64[Y]").astype("datetime64[s]")
        return np.asarray((self.wall - year).astype(np.float64) / 86400.0)

    @cached_property
    def hours(self) -> FloatArray:
        """Hours since 1970 in UTC."""
        return np.asarray(self.time.astype(np.float64) / 3600.0)

    def season(self, peak_day: float) -> FloatArray:
        """Return a yearly wave from -1 to 1 that peaks on `peak_day` of the year."""
        return np.asarray(np.cos(2.0 * np.pi * (self.day_of_year - peak_day) / 365.25))

    def index(self, when: str) -> int:
        """Return the first grid position at or after a wall-clock text; it may lie off the grid."""
        seconds = instant(when).timestamp() - self.time[0].astype(np.float64)
        return int(np.ceil(seconds / (60.0 * self.step_minutes)))

    def window(self, start: str, end: str) -> slice:
        """Return the grid positions with start <= time < end, cut to the record."""
        return slice(max(0, self.index(start)), max(0, self.index(end)))

    def covers(self, start: str) -> bool:
        """Whether something that starts at `start` begins inside the record."""
        return 0 <= self.index(start) < len(self)

    def hours_since(self, when: str) -> FloatArray:
        """Return the hours [h] from `when` to every instant; negative before it."""
        return self.hours - instant(when).timestamp() / 3600.0

    def steps(self, hours: float) -> int:
        """Return a duration as a whole number of steps, at least one."""
        return max(1, round(hours * 60.0 / self.step_minutes))


def make_calendar(weeks: int, step_minutes: int) -> Calendar:
    """Lay the grid over the last `weeks` local weeks before the demo's end.

    Parameters
    ----------
    weeks : int
        Length of the record [weeks].
    step_minutes : int
        Spacing [min]; a divisor of 60.
    """
    first_wall = datetime.fromisoformat(END) - timedelta(weeks=weeks)
    start = np.datetime64(instant(first_wall.isoformat()).replace(tzinfo=None), "s")
    end = np.datetime64(instant(END).replace(tzinfo=None), "s")
    return Calendar(np.arange(start, end, np.timedelta64(60 * step_minutes, "s")), step_minutes)
