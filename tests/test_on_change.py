"""Recorded on change: a value stands until the next, or until the heartbeat that did not come."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import polars as pl
import pytest
from pydantic import ValidationError

from pipeline import limits
from pipeline.clock import period_between
from pipeline.coverage import coverage
from pipeline.facts import SPANS
from pipeline.gather import gather
from pipeline.intake import take_in
from pipeline.logbook.book import read_logbook
from pipeline.parts import parts
from pipeline.record import record

DAY = date(2026, 7, 14)
HEARTBEAT_S = 4 * 3600.0


@pytest.fixture
def changing(make):
    """A pressure that changed at the given local hours of 14 July 2026; None is a reading marked bad."""

    def build(hours, heartbeat_s=HEARTBEAT_S, exported=None, as_of=None):
        start = make.local(DAY.year, DAY.month, DAY.day)
        times = [start + timedelta(hours=hour) for hour in hours]
        values = [np.nan if value is None else value for value in hours.values()]
        frame = make.frame(pl.Series(times), values, good=[value is not None for value in hours.values()])
        tag = make.tag(
            measures="pressure",
            unit="psi",
            low=0.0,
            high=200.0,
            step_s=60.0,
            recording="on change",
            heartbeat_s=heartbeat_s,
        )
        case = make.case(frame, tag=tag, as_of=as_of or start + timedelta(hours=24))
        if exported is None:
            return case
        spans = pl.DataFrame(
            [(start + timedelta(hours=a), start + timedelta(hours=b)) for a, b in exported],
            SPANS,
            orient="row",
        )
        return replace(case, exported=spans)

    return build


def _coverage(make, case):
    return coverage({case.tag.tag: case}, period_between(DAY, DAY, make.zone)).row(0, named=True)


def _assessed(make, case, **limit):
    row = make.limit(**limit)
    return parts(limits)["instantaneous"].assess(record(case, row), row, period_between(DAY, DAY, make.zone))


def test_a_heartbeat_goes_with_changes_only(make):
    with pytest.raises(ValidationError, match="heartbeat_s goes with recording = on change"):
        make.tag(heartbeat_s=60.0)
    assert make.tag(step_s=900.0).hold == timedelta(minutes=30)
    beating = make.tag(recording="on change", heartbeat_s=3600.0, step_s=60.0)
    assert (beating.quiet, beating.hold) == (timedelta(hours=1), timedelta(minutes=61))
    assert make.tag(recording="on change").stands_until_the_next


def test_a_value_covers_the_time_until_the_next_one(make, changing):
    """At 0, 3 and 6 h with a heartbeat of 4 h and a step of 1 min: known until 10:01, then not."""
    row = _coverage(make, changing({0: 60, 3: 61, 6: 62}))
    assert row["coverage_pct"] == pytest.approx(100 * 601 / 1440)
    assert row["longest_gap_minutes"] == 1440 - 601
    assert (row["expected"], row["present"], row["good"]) == (3, 3, 3)


def test_without_heartbeat_it_stands_all_day(make, changing):
    row = _coverage(make, changing({0: 60, 3: 61, 6: 62}, heartbeat_s=None))
    assert (row["coverage_pct"], row["longest_gap_minutes"]) == (100.0, 0.0)


def test_a_bad_reading_ends_what_stood(make, changing):
    """Bad at 6:00 until the next good one at 18:00: twelve hours of the 24."""
    for heartbeat_s in (None, 24 * 3600.0):
        row = _coverage(make, changing({0: 60, 6: None, 18: 61}, heartbeat_s=heartbeat_s))
        assert row["coverage_pct"] == pytest.approx(50.0)
        assert row["longest_gap_minutes"] == 720.0


def test_of_a_time_without_exports_nothing_is_known(make, changing):
    """No export covers 8:00 to 16:00: a value that stands until the next does not stand there, nor after."""
    case = changing({0: 60, 20: 61}, heartbeat_s=None, exported=[(0, 8), (16, 24)])
    row = _coverage(make, case)
    assert row["coverage_pct"] == pytest.approx(100 * 12 / 24)
    assert row["longest_gap_minutes"] == 12 * 60.0
    # A heartbeat decides by itself.
    with_heartbeat = changing({0: 60, 20: 61}, heartbeat_s=24 * 3600.0, exported=[(0, 8), (16, 24)])
    assert _coverage(make, with_heartbeat)["coverage_pct"] == 100.0


def test_a_limit_counts_every_minute_that_a_value_stood(make, changing):
    """Above 80 psi from 3:00 to 5:30, told by two readings."""
    result = _assessed(make, changing({0: 60, 3: 85, 5.5: 60}, heartbeat_s=None), high=80)
    assert (result.status, result.minutes_outside) == ("outside", 150.0)
    assert result.coverage_pct == 100.0


def test_a_silent_tag_is_no_evidence_that_a_limit_was_kept(make, changing):
    assert _assessed(make, changing({0: 60, 3: 61}), high=80).status == "not assessable"
    beating = {hour: 60 + hour / 100 for hour in range(0, 24, 4)}
    assert _assessed(make, changing(beating), high=80).status == "within"


def test_an_episode_ends_unknown_where_the_heartbeat_failed(make, changing):
    result = _assessed(make, changing({0: 60, 3: 85}), high=80)
    (episode,) = result.excursions
    assert (episode.minutes, episode.open_end) == (241.0, True)


@pytest.fixture(scope="module")
def find_gaps():
    from pipeline.checks import gap

    return lambda case: list(gap.find(case, gap.Settings()))


def test_a_missed_heartbeat_is_a_gap_from_when_it_was_due(make, changing, find_gaps):
    first, last = find_gaps(changing({0: 60, 3: 61, 12: 62}))
    assert (first.start, first.end) == (make.local(2026, 7, 14, 7), make.local(2026, 7, 14, 12))
    assert "5 h" in first.evidence and "none was stored" in first.evidence
    assert (last.start, last.end, last.severity) == (make.local(2026, 7, 14, 16), None, "watch")


@pytest.mark.parametrize(("hours", "found"), [(6.0, 0), (6.1, 1)])
def test_two_hours_past_the_heartbeat_are_allowed(changing, find_gaps, hours, found):
    rest = dict.fromkeys(np.arange(hours, 24, 3.9), 60)
    assert len(find_gaps(changing({0: 60, **rest}))) == found


def test_without_heartbeat_only_a_bad_reading_is_a_gap(changing, find_gaps):
    assert find_gaps(changing({0: 60}, heartbeat_s=None)) == []
    (finding,) = find_gaps(changing({0: 60, 6: None, 18: 61}, heartbeat_s=None))
    assert finding.end - finding.start == timedelta(hours=12)


def test_without_heartbeat_the_end_of_the_exports_is_a_gap(changing, find_gaps):
    (finding,) = find_gaps(changing({0: 60, 20: 61}, heartbeat_s=None, exported=[(0, 8), (16, 24)]))
    assert finding.end - finding.start == timedelta(hours=12)


def test_gaps_are_told_day_by_day_as_they_were_known(make, changing, find_gaps):
    """The gap due at 7:00 is told from 9:00 on, however much is known later."""
    early = changing({0: 60, 3: 61}, as_of=make.local(2026, 7, 14, 9))
    late = changing({0: 60, 3: 61}, as_of=make.local(2026, 7, 14, 9, 1))
    assert (len(find_gaps(early)), len(find_gaps(late))) == (0, 1)


TAGS = """\
tag,area,measures,unit,step_s,recording,heartbeat_s,states,valid_when
YS-1,filters,state,1,60,on change,{heartbeat},0=Off|1=On,
FIT-1,filters,flow,gpm,900,interval,,,YS-1 == 1
AIT-1,filters,ph,pH,900,interval,,,
"""


def _exports(hours):
    """Rows of two tags, every quarter hour of 14 July 2026 from one hour to another."""
    rows = ["Tag,Time,Value,Quality"]
    for k in range(hours[0] * 4, hours[1] * 4):
        when = f"2026-07-14 {k // 4:02d}:{k % 4 * 15:02d}"
        rows += [f"FIT-1,{when},{100 + k % 5},Good", f"AIT-1,{when},{7 + k % 5 * 0.01:.2f},Good"]
    return rows


def _gathered(make, make_plant, heartbeat, **exports):
    plant = make_plant(
        tags=TAGS.format(heartbeat=heartbeat), **{k: "\n".join(v) + "\n" for k, v in exports.items()}
    )
    take_in(plant, now=make.utc(2026, 7, 20))
    book, _ = read_logbook(plant)
    return gather(plant, book, make.local(2026, 7, 15))


def test_a_pump_that_said_on_once_keeps_its_flow_in_service(make, make_plant):
    cases = _gathered(make, make_plant, "", a=[*_exports((0, 24)), "YS-1,2026-07-14 02:00,On,Good"])
    counted = cases["FIT-1"].readings.filter("in_state")
    assert counted.height == 22 * 4  # from 2:00 to midnight
    assert _coverage(make, cases["YS-1"])["coverage_pct"] == pytest.approx(100 * 22 / 24)


def test_a_pump_whose_heartbeat_failed_is_in_no_known_state(make, make_plant):
    cases = _gathered(make, make_plant, "3600", a=[*_exports((0, 24)), "YS-1,2026-07-14 02:00,On,Good"])
    # From 2:00 until 3:01: five quarter hours.
    assert cases["FIT-1"].readings.filter("in_state").height == 5


def test_a_state_marked_bad_is_not_known_until_the_next_good_one(make, make_plant):
    said = ["YS-1,2026-07-14 02:00,On,Good", "YS-1,2026-07-14 10:00,On,Bad", "YS-1,2026-07-14 20:00,On,Good"]
    cases = _gathered(make, make_plant, "", a=[*_exports((0, 24)), *said])
    assert cases["FIT-1"].readings.filter("in_state").height == (8 + 4) * 4


def test_between_two_deliveries_the_state_is_not_known(make, make_plant):
    first = [*_exports((0, 8)), "YS-1,2026-07-14 02:00,On,Good"]
    second = _exports((16, 24))
    cases = _gathered(make, make_plant, "", a=first, b=second)
    counted = cases["FIT-1"].readings.filter("in_state")
    assert counted.height == 6 * 4  # from 2:00 to the last reading before 8:00, none after 16:00
    # The last line of the first export, 7:45, stands for two steps.
    assert _coverage(make, cases["YS-1"])["longest_gap_minutes"] == 15 * 60 + 45


def test_deliveries_that_follow_each_other_join_up(make, make_plant):
    first = [*_exports((0, 12)), "YS-1,2026-07-14 02:00,On,Good"]
    cases = _gathered(make, make_plant, "", a=first, b=_exports((12, 24)))
    assert cases["FIT-1"].readings.filter("in_state").height == 22 * 4
    assert cases["YS-1"].exported.height == 1


def test_thinned_out_records_are_said_to_be(make):
    """9 of 10 quarter hours repeat the one before: the mark is at 60 %."""
    times = make.grid(make.local(2026, 6, 1), 14)
    walk = np.cumsum(np.random.default_rng(1).normal(0, 0.05, len(times)))
    staircase = make.case(make.frame(times, np.repeat(np.round(7 + walk[::10], 3), 10)[: len(times)]))
    lively = make.case(make.frame(times, np.round(7 + walk, 3)))
    assert (staircase.thinned, lively.thinned) == (True, False)
    assert (
        make.case(make.frame(times, np.full(len(times), 1.0)), tag=make.tag(measures="state")).thinned
        is False
    )
