"""The clock that an export keeps, against the tz database."""

from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import polars as pl
import pytest

from pipeline.ingest.nights import RULES, changes_on, standard_offset, sunday
from pipeline.setup.clock import clock, season

AMERICA, EUROPE = RULES


@pytest.mark.parametrize(("rule", "zone"), [(AMERICA, "America/Denver"), (EUROPE, "Europe/Berlin")])
def test_the_rules_name_the_nights_of_the_tz_database(rule, zone):
    """From 2007 on, when the United States moved theirs."""
    for year in range(2007, 2031):
        days = [date(year, 1, 1) + timedelta(days=k) for k in range(365)]
        changes = [day for day in days if changes_on(ZoneInfo(zone), day)]
        assert changes == [sunday(year, *rule.spring), sunday(year, *rule.autumn)]


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.name)
def test_each_zone_keeps_the_offset_it_stands_for(rule):
    for hours, zone in rule.zones.items():
        assert datetime(2026, 1, 15, tzinfo=ZoneInfo(zone)).utcoffset() == timedelta(hours=hours)


def _walls(zone, first, days, step_minutes=15):
    """What a recorder on the clock of `zone` writes down, as it was shown."""
    start = datetime(*first, tzinfo=ZoneInfo(zone)).astimezone(ZoneInfo("UTC"))
    count = days * 24 * 60 // step_minutes
    shown = [
        (start + timedelta(minutes=step_minutes * k)).astimezone(ZoneInfo(zone)).replace(tzinfo=None)
        for k in range(count)
    ]
    return pl.Series("wall", shown, dtype=pl.Datetime("us"))


def _drafted(walls, header="Time", given=None):
    return clock(walls.dt.to_string("%Y-%m-%d %H:%M"), walls, header, given)


@pytest.mark.parametrize("step", [1, 15, 60])
@pytest.mark.parametrize(
    ("zone", "night", "drafted"),
    [
        ("America/Denver", (2026, 3, 7), "America/New_York"),
        ("America/Denver", (2026, 10, 31), "America/New_York"),
        ("Europe/Berlin", (2026, 3, 28), "Europe/Berlin"),
        ("Europe/Berlin", (2026, 10, 24), "Europe/Berlin"),
    ],
)
def test_a_clock_that_changes_shows_its_rule(zone, night, drafted, step):
    guess = _drafted(_walls(zone, night, 3, step))
    assert guess.value == drafted
    assert "rule; which zone no export says" in guess.evidence


@pytest.mark.parametrize("step", [1, 15, 60])
@pytest.mark.parametrize("night", [(2026, 3, 7), (2026, 10, 31), (2026, 3, 28), (2026, 10, 24)])
def test_a_clock_that_never_changes_is_seen(night, step):
    guess = _drafted(_walls("America/Phoenix", night, 3, step))
    assert guess.value == "UTC"
    assert "standard time all year" in guess.evidence


def test_a_summer_tells_nothing():
    guess = _drafted(_walls("America/Denver", (2026, 6, 1), 30))
    assert guess.value == "UTC"
    assert guess.evidence == "nothing in the export tells the zone: give --time-zone"


def test_a_gap_over_the_night_tells_nothing():
    walls = _walls("America/Denver", (2026, 3, 7), 3)
    walls = walls.filter((walls < datetime(2026, 3, 8, 1)) | (walls >= datetime(2026, 3, 8, 4)))
    assert "nothing" in _drafted(walls).evidence


@pytest.mark.parametrize(
    ("texts", "drafted"),
    [
        (["2026-01-01T00:00:00-07:00", "2026-07-01T00:00:00-06:00"], "America/Denver"),
        (["2026-01-01T00:00:00+01:00", "2026-07-01T00:00:00+02:00"], "Europe/Berlin"),
        (["2026-01-01T00:00:00-07:00"], "-07:00"),
        (["2026-01-01T00:00:00Z"], "UTC"),
    ],
)
def test_offsets_speak_for_themselves(texts, drafted):
    assert clock(pl.Series(texts), pl.Series([], dtype=pl.Datetime("us")), "Time", None).value == drafted


def test_a_header_may_say_utc():
    assert _drafted(_walls("UTC", (2026, 6, 1), 1), header="Time (UTC)").value == "UTC"
    assert "nothing" in _drafted(_walls("UTC", (2026, 6, 1), 1), header="Outcome").evidence


def test_what_speaks_against_a_named_zone_is_said():
    standard = _walls("America/Phoenix", (2026, 3, 7), 3)
    assert "needs its offset (-07:00)" in _drafted(standard, given="America/Denver").evidence
    assert _drafted(standard, given="-07:00").evidence == "as given"
    summer = _walls("America/Denver", (2026, 3, 7), 3)
    assert _drafted(summer, given="America/Denver").evidence == "as given"
    assert "follows summer time" in _drafted(summer, given="-07:00").evidence


def test_the_standard_offset_is_the_winter_one():
    for day in (date(2026, 3, 8), date(2026, 11, 1)):
        assert standard_offset(ZoneInfo("America/Denver"), day) == "-07:00"


@pytest.mark.parametrize(
    ("letters", "zone", "value", "words"),
    [
        ("mst", "America/Denver", "America/Denver", "the wall clock"),
        ("mst", "America/Phoenix", "", "standard time all year; if it is the wall clock"),
        ("mountain standard time", "America/Denver", "America/Denver", "the wall clock"),
        ("mountain standard time", "America/Phoenix", "", "say which"),
        ("mdt", "America/Denver", "", ""),
        ("mountain time", "America/Denver", "", ""),
    ],
)
def test_letters_of_standard_time_are_asked_about(letters, zone, value, words):
    guess = season(letters, _walls(zone, (2026, 3, 7), 3), "America/Denver")
    assert guess.value == value
    assert words in guess.evidence
