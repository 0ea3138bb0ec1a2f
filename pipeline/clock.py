"""Clock: wall clock to UTC with both daylight-saving nights, and the plant's weeks and days."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, timezone, tzinfo
from typing import Literal
from zoneinfo import ZoneInfo

import polars as pl

WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
_MANY_DAYS = 400
"""A longer record holds a clock change anyway, or does not gain by being asked."""
_FIXED = re.compile(r"^(?:UTC|GMT)?([+-])(\d{2}):?(\d{2})$")


def zone_of(name: str) -> tzinfo:
    """Return the time zone `name` stands for.

    Parameters
    ----------
    name : str
        IANA name (``America/Denver``), ``UTC``, or a fixed offset (``-07:00``) for a plant that
        stays on standard time all year.

    Raises
    ------
    ValueError
        The name is neither.
    """
    fixed = _FIXED.match(name)
    if fixed:
        sign = -1 if fixed[1] == "-" else 1
        return timezone(sign * timedelta(hours=int(fixed[2]), minutes=int(fixed[3])))
    try:
        return ZoneInfo(name)
    except (KeyError, ValueError, OSError) as error:
        raise ValueError(f"{name!r} is neither an IANA time zone nor an offset such as -07:00") from error


def to_local(times: pl.Expr, zone: tzinfo) -> pl.Expr:
    """Return wall-clock datetimes (without zone) of UTC `times`."""
    if isinstance(zone, ZoneInfo):
        return times.dt.convert_time_zone(zone.key).dt.replace_time_zone(None)
    offset = zone.utcoffset(None) or timedelta()
    return times.dt.replace_time_zone(None) + pl.lit(offset)


def to_utc(frame: pl.DataFrame, zone: tzinfo, by: str = "tag", when: str = "when") -> pl.Series:
    """Turn the wall-clock column `when` into UTC, row by row.

    The hour that the clocks repeat in autumn is told apart by order in the file: within one tag its
    first pass is summer time, and once the clock steps back it is standard time. The hour that does
    not exist in spring becomes null.

    Parameters
    ----------
    frame : DataFrame
        Columns `by` (any) and `when` (Datetime without zone), in file order.
    zone : tzinfo
        From `zone_of`.

    Returns
    -------
    Series
        Datetime UTC, null where the wall clock never showed this time, and in a repeated hour in which the
        record steps back more than once, or other times stand between: then its order tells nothing.
    """
    local = frame[when].cast(pl.Datetime("us"))
    if not isinstance(zone, ZoneInfo):
        return (local - (zone.utcoffset(None) or timedelta())).dt.replace_time_zone("UTC")
    offset = _only_offset(local, zone)
    if offset is not None:
        return (local - offset).dt.replace_time_zone("UTC")
    first, second = in_zone(local, zone, "earliest"), in_zone(local, zone, "latest")
    twice = (first != second).fill_null(False)
    if not twice.any():
        return first
    is_second, unclear = _second_pass(frame[by], local, twice)
    return first.zip_with(~is_second, second).set(unclear, None)


def _only_offset(local: pl.Series, zone: ZoneInfo) -> timedelta | None:
    """Return the offset from UTC if no clock change falls between the first and the last day of `local`."""
    first, last = local.min(), local.max()
    if not isinstance(first, datetime) or not isinstance(last, datetime):
        return None
    days = range((last.date() - first.date()).days + 2)
    if len(days) > _MANY_DAYS:
        return None
    offsets = {
        datetime.combine(first.date() + timedelta(days=day), time(), tzinfo=zone).utcoffset() for day in days
    }
    return offsets.pop() if len(offsets) == 1 else None


def in_zone(local: pl.Series, zone: ZoneInfo, ambiguous: Literal["earliest", "latest"]) -> pl.Series:
    """Return the UTC instants at which the clock of a zone shows `local`; null where it never does."""
    zoned = local.to_frame("t").select(
        pl.col("t").dt.replace_time_zone(zone.key, ambiguous=ambiguous, non_existent="null")
    )["t"]
    return zoned.dt.convert_time_zone("UTC")


def _second_pass(tags: pl.Series, local: pl.Series, twice: pl.Series) -> tuple[pl.Series, pl.Series]:
    """Mark the rows of a repeated hour after the clock stepped back; and where it did so more than once.

    Of a record that pauses on one time and steps back at another, the step back is the clock's. Where other
    times stand between those of the hour, the lines are in no order that tells.
    """
    rows = pl.DataFrame({"tag": tags, "t": local, "twice": twice}).with_row_index("row").drop_nulls("t")
    rows = rows.with_columns(pl.int_range(pl.len()).over("tag").alias("place")).filter("twice")
    night = ["tag", pl.col("t").dt.date()]
    step = pl.col("t").diff().over(night)
    back = pl.when((step < 0).any().over(night)).then(step < 0).otherwise(step <= 0).fill_null(False)
    passed = rows.with_columns(back=back).with_columns(
        second=pl.col("back").cum_max().over(night),
        often=((pl.col("back").sum() > 1) | (pl.col("place").diff() > 1).any()).over(night),
    )
    second, often = (
        pl.zeros(len(local), dtype=pl.Boolean, eager=True).scatter(passed.filter(name)["row"], True)
        for name in ("second", "often")
    )
    return second, often


@dataclass(frozen=True)
class Period:
    """A stretch of time under report: ``start <= t < end``, both UTC, with the label people use."""

    label: str
    start: datetime
    end: datetime
    zone: tzinfo

    @property
    def days(self) -> list[tuple[datetime, datetime]]:
        """Local calendar days of the period as UTC (start, end): 23, 24 or 25 hours long."""
        first = self.start.astimezone(self.zone).date()
        last = (self.end - timedelta(microseconds=1)).astimezone(self.zone).date()
        count = (last - first).days + 1
        return [day_bounds(first + timedelta(days=k), self.zone) for k in range(count)]

    def text(self, instant: datetime) -> str:
        """`instant` as ISO 8601 wall clock with offset."""
        return instant.astimezone(self.zone).isoformat(timespec="seconds")


def midnight(day: date, zone: tzinfo) -> datetime:
    """Return the UTC instant at which the local `day` begins."""
    return datetime.combine(day, time(), tzinfo=zone).astimezone(UTC)


def day_bounds(day: date, zone: tzinfo) -> tuple[datetime, datetime]:
    """UTC start and end of the local `day`."""
    return midnight(day, zone), midnight(day + timedelta(days=1), zone)


def week_named(label: str, zone: tzinfo, week_starts: str = "monday") -> Period:
    """Return the week called `label` (``2026-W46``).

    Weeks that do not begin on Monday take the ISO 8601 number of their fourth day, the day that
    decides the year in ISO 8601 too.

    Raises
    ------
    ValueError
        `label` is not a week of the ISO calendar.
    """
    match = re.fullmatch(r"(\d{4})-W(\d{2})", label)
    if not match:
        raise ValueError(f"{label!r} is not a week such as 2026-W46")
    first_day = WEEKDAYS.index(week_starts)
    fourth = date.fromisocalendar(int(match[1]), int(match[2]), (first_day + 3) % 7 + 1)
    start = fourth - timedelta(days=3)
    return Period(label, midnight(start, zone), midnight(start + timedelta(days=7), zone), zone)


def week_of(instant: datetime, zone: tzinfo, week_starts: str = "monday") -> Period:
    """Return the week that holds `instant`."""
    day = instant.astimezone(zone).date()
    start = day - timedelta(days=(day.weekday() - WEEKDAYS.index(week_starts)) % 7)
    year, number, _ = (start + timedelta(days=3)).isocalendar()
    return week_named(f"{year}-W{number:02d}", zone, week_starts)


def weeks_between(
    first: datetime, last: datetime, zone: tzinfo, week_starts: str = "monday"
) -> Iterator[Period]:
    """Every week from the one that holds `first` to the last that has ended by `last`."""
    week = week_of(first, zone, week_starts)
    while week.end <= last:
        yield week
        week = week_of(week.end, zone, week_starts)


def period_between(start: date, end: date, zone: tzinfo) -> Period:
    """Return the local days `start` to `end`, both included."""
    begin, stop = midnight(start, zone), midnight(end + timedelta(days=1), zone)
    return Period(f"{start.isoformat()}--{end.isoformat()}", begin, stop, zone)


def month_named(label: str, zone: tzinfo) -> Period:
    """Return the calendar month called `label` (``2026-11``).

    Raises
    ------
    ValueError
        `label` is not a month.
    """
    match = re.fullmatch(r"(\d{4})-(\d{2})", label)
    if not match or not 1 <= int(match[2]) <= 12:
        raise ValueError(f"{label!r} is not a month such as 2026-11")
    year, month = int(match[1]), int(match[2])
    after = date(year + month // 12, month % 12 + 1, 1)
    return Period(label, midnight(date(year, month, 1), zone), midnight(after, zone), zone)


def months_of(period: Period) -> list[Period]:
    """Return the calendar months that `period` touches, oldest first."""
    return _months(period, 1)


def quarters_of(period: Period) -> list[Period]:
    """Return the calendar quarters that `period` touches."""
    return _months(period, 3)


def half_years_of(period: Period) -> list[Period]:
    """Return the half-years, January to June and July to December, that `period` touches."""
    return _months(period, 6)


def weeks_touching(period: Period, week_starts: str) -> list[Period]:
    """Return the weeks beginning on `week_starts` that `period` touches."""
    found = [week_of(period.start, period.zone, week_starts)]
    while found[-1].end < period.end:
        found.append(week_of(found[-1].end, period.zone, week_starts))
    return found


def months_before(month: Period, count: int) -> list[Period]:
    """Return the `count` calendar months that end with `month`, oldest first."""
    first = month.start.astimezone(month.zone)
    number = first.year * 12 + first.month - 1
    return [_stretch(k, 1, month.zone) for k in range(number - count + 1, number + 1)]


def _months(period: Period, length: int) -> list[Period]:
    """Return the stretches of `length` months, counted from January, that `period` touches."""
    first = period.start.astimezone(period.zone)
    last = (period.end - timedelta(microseconds=1)).astimezone(period.zone)
    begin, end = (moment.year * 12 + moment.month - 1 for moment in (first, last))
    return [_stretch(k, length, period.zone) for k in range(begin - begin % length, end + 1, length)]


def _stretch(month: int, length: int, zone: tzinfo) -> Period:
    """Return `length` months from the `month`-th since year 0."""
    begin, end = (date(k // 12, k % 12 + 1, 1) for k in (month, month + length))
    label = f"{begin.year}-{begin.month:02d}"
    last = end - timedelta(days=1)
    return Period(
        label if length == 1 else f"{label}--{last.year}-{last.month:02d}",
        midnight(begin, zone),
        midnight(end, zone),
        zone,
    )
