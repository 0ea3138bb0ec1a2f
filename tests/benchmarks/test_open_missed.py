"""What is said of missed stretches, and which findings stood on a week's list, on invented stations."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import polars as pl
import pytest

from benchmarks.open_records_missed import missed_lines
from benchmarks.open_records_plant import listed
from benchmarks.open_records_probe import Station
from benchmarks.open_records_scoring import Event, Sorted, Told
from pipeline.case import Case
from pipeline.clock import weeks_between
from pipeline.facts import READINGS
from pipeline.finding import Finding

FIRST = datetime(2020, 6, 1, 6, tzinfo=UTC)
DAY = timedelta(days=1)


@pytest.fixture
def station() -> Station:
    """Twenty days that read 7, but 9 and at last 11 from noon (UTC-6) to midnight of the tenth."""
    time = [FIRST + hour * DAY / 24 for hour in range(20 * 24)]
    begin = FIRST + 9.5 * DAY
    value = [9.0 if begin <= one < begin + DAY / 2 else 7.0 for one in time]
    value[9 * 24 + 23] = 11.0
    readings = pl.DataFrame({"time": time, "value": value}, schema_overrides={"time": READINGS["time"]})
    events = [
        Event("AIT-3", frozenset({"malfunction"}), begin, begin + DAY / 2, True),
        Event("AIT-3", frozenset({"malfunction"}), begin + 5 * DAY, begin + 5 * DAY + DAY / 96, True),
    ]
    nothing = Sorted((), (), ())
    return Station("lksxx", FIRST, FIRST + 20 * DAY, 0.7, events, [], [], nothing, {"AIT-3": readings}, 0)


def test_a_missed_stretch_is_told_with_its_readings_and_a_single_reading_is_not(station: Station) -> None:
    said, known = missed_lines([station])
    assert said == (
        "lksxx pH, malfunction: 2020-06-10 12:00 to 2020-06-11 00:00, 12.0 h rejected as malfunction"
    )
    assert known == (
        "  recorded on 10 days before; read 9 (9 to 11); a day before 7 (7 to 7), a day after 7 (7 to 7)"
    )


def test_what_was_said_near_it_is_printed_and_what_names_it_makes_it_no_miss(station: Station) -> None:
    begin = station.events[0].begin
    late = Told("AIT-3", "strayed", begin + 6 * DAY, begin + 2 * DAY, begin + 3 * DAY, False)
    other = replace(late, tag="AIT-4")
    assert missed_lines([replace(station, told=[late, other])])[2:] == [
        "  strayed from 2020-06-12 12:00, known 2020-06-16 12:00, for the record"
    ]
    assert missed_lines([replace(station, told=[replace(late, start=begin, known=begin + DAY)])]) == []


@pytest.mark.parametrize(("day", "stood"), [(20, True), (8, False)])
def test_a_service_closes_what_is_over_from_its_own_day_on(make, day: int, stood: bool) -> None:
    """It crossed on Tuesday, 9 June and was over on the same day, or was serviced then; 20 June is later."""
    zone = ZoneInfo("UTC")
    services = make.services([datetime(2020, 6, day + 1, 10, tzinfo=UTC)])
    readings = pl.DataFrame(schema=READINGS)
    case = Case(make.tag(), make.instrument(), zone, FIRST + 40 * DAY, readings, services=services)
    start = datetime(2020, 6, 9, 3, tzinfo=UTC)
    over = Finding(
        tag=case.tag.tag, instrument=case.device, kind="pegged", severity="watch", crossed=date(2020, 6, 9),
        start=start, end=start + DAY / 4, reference="instrument's span", evidence="", check_first="", unit="",
    )  # fmt: skip
    weeks = list(weeks_between(FIRST, FIRST + 40 * DAY, zone))
    assert (over.finding_id in listed([over], {case.tag.tag: case}, weeks)) is stood
