"""The clock: against the tz database and the ISO 8601 calendar."""

from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.clock import (
    WEEKDAYS,
    day_bounds,
    month_named,
    period_between,
    to_local,
    to_utc,
    week_named,
    week_of,
    weeks_between,
    zone_of,
)

DENVER = ZoneInfo("America/Denver")


# tz database, US rules of 2026: clocks go forward on 8 March and back on 1 November, at 02:00 local;
# Denver is at UTC-7 in winter and UTC-6 in summer.
@pytest.mark.parametrize(
    ("day", "hours", "quarters"),
    [(date(2026, 3, 8), 23, 92), (date(2026, 11, 1), 25, 100), (date(2026, 7, 4), 24, 96)],
)
def test_days_of_the_time_change(day: date, hours: int, quarters: int) -> None:
    start, end = day_bounds(day, DENVER)
    assert (end - start) / timedelta(hours=1) == hours
    assert (end - start) / timedelta(minutes=15) == quarters


def test_the_instants_of_the_time_change() -> None:
    # The same source: 09:00Z in March, 08:00Z in November for Mountain time.
    frame = pl.DataFrame({"tag": "A", "when": [datetime(2026, 3, 8, 1, 59), datetime(2026, 3, 8, 3, 0)]})
    assert to_utc(frame, DENVER).to_list() == [
        datetime(2026, 3, 8, 8, 59, tzinfo=UTC),
        datetime(2026, 3, 8, 9, 0, tzinfo=UTC),
    ]
    frame = pl.DataFrame({"tag": "A", "when": [datetime(2026, 11, 1, 0, 59), datetime(2026, 11, 1, 2, 0)]})
    assert to_utc(frame, DENVER).to_list() == [
        datetime(2026, 11, 1, 6, 59, tzinfo=UTC),
        datetime(2026, 11, 1, 9, 0, tzinfo=UTC),
    ]


def test_the_skipped_hour_is_null() -> None:
    frame = pl.DataFrame({"tag": "A", "when": [datetime(2026, 3, 8, 2, 0), datetime(2026, 3, 8, 2, 59)]})
    assert to_utc(frame, DENVER).null_count() == 2


def test_each_tag_steps_back_for_itself() -> None:
    rows = [("A", 45), ("B", 30), ("A", 0), ("B", 45), ("A", 15), ("B", 30)]
    frame = pl.DataFrame(
        [(tag, datetime(2026, 11, 1, 1, minute)) for tag, minute in rows], ["tag", "when"], orient="row"
    )
    hours = [time.hour for time in to_utc(frame, DENVER)]
    assert hours == [7, 7, 8, 7, 8, 8]


def test_an_hourly_record_of_the_autumn_night() -> None:
    instants = [datetime(2026, 11, 1, hour, tzinfo=UTC) for hour in range(5, 11)]
    frame = pl.DataFrame({"tag": "A", "time": instants}).with_columns(when=to_local(pl.col("time"), DENVER))
    assert frame["when"].dt.hour().to_list() == [23, 0, 1, 1, 2, 3]
    assert to_utc(frame, DENVER).to_list() == instants


@given(st.datetimes(datetime(1975, 1, 1), datetime(2037, 12, 31)), st.integers(1, 5000))
def test_a_regular_record_comes_back_through_the_wall_clock(start: datetime, minutes: int) -> None:
    start = start.replace(second=0, microsecond=0, tzinfo=UTC)
    step = timedelta(minutes=minutes % 45 + 1)
    instants = [start + step * count for count in range(200)]
    frame = pl.DataFrame({"tag": "A", "time": instants}).with_columns(when=to_local(pl.col("time"), DENVER))
    wall = [instant.astimezone(DENVER).replace(tzinfo=None) for instant in instants]
    assert frame["when"].to_list() == wall
    # A record that begins within the repeated hour's second pass cannot know it.
    if wall[0].replace(tzinfo=DENVER).utcoffset() == instants[0].astimezone(DENVER).utcoffset():
        assert to_utc(frame, DENVER).to_list() == instants


def test_zones_by_name_and_by_offset() -> None:
    at = datetime(2026, 7, 1)
    assert zone_of("America/Denver").utcoffset(at) == timedelta(hours=-6)
    assert zone_of("-07:00").utcoffset(at) == timedelta(hours=-7)
    assert zone_of("UTC+0530").utcoffset(at) == timedelta(hours=5, minutes=30)
    with pytest.raises(ValueError, match="neither an IANA time zone nor an offset"):
        zone_of("Denver time")


# ISO 8601: week 1 holds the year's first Thursday; 2026 begins on a Thursday and has 53 weeks, 2025 has 52.
def test_iso_weeks() -> None:
    first = week_of(datetime(2026, 1, 1, 12, tzinfo=UTC), DENVER)
    assert first.label == "2026-W01"
    assert first.start == datetime(2025, 12, 29, 7, tzinfo=UTC)
    assert week_named("2026-W53", DENVER).start == datetime(2026, 12, 28, 7, tzinfo=UTC)
    assert week_of(datetime(2027, 1, 3, 12, tzinfo=UTC), DENVER).label == "2026-W53"
    with pytest.raises(ValueError, match="week"):
        week_named("2025-W53", DENVER)
    for wrong in ("2026-46", "W46", "2026-W5", "2026-W00"):
        with pytest.raises(ValueError, match="week"):
            week_named(wrong, DENVER)


@given(st.dates(date(1990, 1, 1), date(2060, 12, 31)), st.integers(0, 23), st.sampled_from(WEEKDAYS))
def test_every_instant_lies_in_the_week_it_names(day: date, hour: int, starts: str) -> None:
    instant = datetime(day.year, day.month, day.day, hour, tzinfo=UTC)
    week = week_of(instant, DENVER, starts)
    assert week.start <= instant < week.end
    assert week.start.astimezone(DENVER).strftime("%A").lower() == starts
    assert week_named(week.label, DENVER, starts) == week
    if starts == "monday":
        year, number, _ = instant.astimezone(DENVER).isocalendar()
        assert week.label == f"{year}-W{number:02d}"


def test_weeks_follow_each_other_without_a_gap() -> None:
    first, last = datetime(2026, 10, 20, tzinfo=UTC), datetime(2026, 11, 9, 7, tzinfo=UTC)
    weeks = list(weeks_between(first, last, DENVER))
    assert [week.label for week in weeks] == ["2026-W43", "2026-W44", "2026-W45"]
    assert all(one.end == two.start for one, two in pairwise(weeks))
    assert (weeks[1].end - weeks[1].start) == timedelta(days=7, hours=1)
    assert [len(week.days) for week in weeks] == [7, 7, 7]


def test_months_and_stretches_of_days() -> None:
    november = month_named("2026-11", DENVER)
    assert november.end - november.start == timedelta(days=30, hours=1)
    assert len(november.days) == 30
    assert month_named("2026-12", DENVER).end == datetime(2027, 1, 1, 7, tzinfo=UTC)
    stretch = period_between(date(2026, 11, 1), date(2026, 11, 2), DENVER)
    assert stretch.end - stretch.start == timedelta(hours=49)
    assert stretch.text(stretch.start) == "2026-11-01T00:00:00-06:00"
    for wrong in ("2026-13", "2026-00", "2026", "26-11"):
        with pytest.raises(ValueError, match="month"):
            month_named(wrong, DENVER)
