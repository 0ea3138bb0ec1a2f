"""Silences: what many tags share is told once, and nothing silent goes untold."""

from dataclasses import replace
from datetime import timedelta

import polars as pl

from pipeline.facts import SAMPLES
from pipeline.report.silences import Silence, silences
from pipeline.table import conform
from pipeline.week import Week
from tests.report.harrow_fork import PERIOD, at, changed, without
from tests.report.weeks import empty_week, full_week, quiet_week


def silent(week: Week, *tags: str, start: str, end: str, day: int = 10) -> Week:
    made = {
        tag: replace(week.cases[tag], readings=without(week.cases[tag], at(day, start), at(day, end)))
        for tag in tags
    }
    return replace(week, cases={**week.cases, **made})


def only(week: Week) -> Silence:
    (found,) = silences(week)
    return found


def test_tags_that_fall_silent_together_are_told_once() -> None:
    wells = silences(full_week())[1]
    assert wells.tags == ("FIT-201", "LIT-201", "FIT-202")
    assert wells.whose == "All 3 regularly recorded tags of Wells"
    # Readings at 02:00 and 07:15 stand; each counts for its quarter of an hour.
    assert (wells.start, wells.end) == (at(11, "02:15"), at(11, "07:15"))


def test_bad_readings_are_no_readings() -> None:
    effluent = silences(full_week())[0]
    assert effluent.bad
    assert effluent.minutes == 100 * 60


def test_part_of_an_area_is_named_tag_by_tag() -> None:
    found = only(silent(quiet_week(), "AIT-121", "AIT-123", start="04:00", end="06:00"))
    assert found.whose == "AIT-121 and AIT-123"


def test_a_whole_area_is_named_as_one() -> None:
    found = only(silent(quiet_week(), "AIT-121", "AIT-123", "AIT-130", start="04:00", end="06:00"))
    assert found.whose == "All 3 tags of Dual-media filters"


def test_a_whole_plant_is_named_as_one() -> None:
    found = only(empty_week())
    assert found.whose == "All 13 tags of the plant"
    assert (found.start, found.end) == (PERIOD.start, PERIOD.end)


def test_short_holes_are_left_to_the_coverage() -> None:
    assert silences(silent(quiet_week(), "AIT-121", start="04:00", end="04:45")) == ()
    assert len(silences(silent(quiet_week(), "AIT-121", start="04:00", end="05:00"))) == 1


def test_a_tag_recorded_on_change_may_rest() -> None:
    week = quiet_week()
    pump = week.cases["YS-201"]
    resting = replace(pump, readings=pump.readings.gather_every(96))
    assert silences(replace(week, cases={**week.cases, "YS-201": resting})) == ()


def test_holes_at_the_same_time_but_of_another_sort_stay_apart() -> None:
    week = silent(quiet_week(), "AIT-121", start="04:00", end="06:00")
    case = week.cases["AIT-123"]
    bad = replace(case, readings=changed(case, at(10, "04:00"), at(10, "06:00"), good=False))
    assert len(silences(replace(week, cases={**week.cases, "AIT-123": bad}))) == 2


def test_the_length_of_every_hole_is_kept() -> None:
    for silence in silences(full_week()):
        assert silence.end - silence.start >= timedelta(hours=1)


def test_what_only_the_lab_measures_is_not_silent() -> None:
    """Its results are looked for in the lab's book, and stand there."""
    week = quiet_week()
    case = week.cases["AIT-121"]
    sample = pl.DataFrame({"time": [PERIOD.start], "value": [17.0], "below": [False]})
    lab = replace(case, instrument=None, readings=case.readings.clear(), samples=conform(sample, SAMPLES))
    assert silences(replace(week, cases={**week.cases, "AIT-121": lab})) == ()
