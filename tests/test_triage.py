"""Triage: what concerns a period, in what order, and whom a technician sees first."""

from dataclasses import replace
from datetime import date, datetime, timedelta

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.clock import midnight, period_between
from pipeline.finding import Finding
from pipeline.result import Excursion
from pipeline.table import VERDICTS
from pipeline.triage import LONGEST_LIST, calibration_list, of_period, with_doubt

FIRST, LAST = date(2026, 11, 9), date(2026, 11, 15)
NOBODY = pl.DataFrame(schema=VERDICTS)


@pytest.fixture(scope="module")
def week(make):
    return period_between(FIRST, LAST, make.zone)


def _finding(make, crossed, end=None, **changes):
    start = midnight(crossed, make.zone) - timedelta(days=3)
    given = {"tag": "AIT-101", "instrument": "AE-101", "kind": "drift", "severity": "watch"}
    words = {"reference": "lab grab", "evidence": "Reads high.", "check_first": "a grab"}
    return Finding(crossed=crossed, start=start, end=end, **{**given, **words, **changes})


def _verdict(finding, word, day=13):
    time = datetime.fromisoformat(f"2026-11-{day:02d}T12:00+00:00")
    row = {"finding_id": finding.finding_id, "verdict": word, "by": "rl", "time": time, "note": ""}
    return pl.DataFrame([row], schema=VERDICTS)


def _status(make, week, crossed, end):
    found = of_period([_finding(make, crossed, end)], week, NOBODY)
    return found[0].status if found else None


def test_status_follows_from_the_dates(make, week):
    """Crossed this week: new, over or not. Before: ongoing while it lasts, cleared in the week it ends."""
    before, after = week.start - timedelta(hours=1), week.start + timedelta(days=2)
    assert _status(make, week, FIRST, None) == "new"
    assert _status(make, week, LAST, None) == "new"
    assert _status(make, week, FIRST, after) == "new"
    assert _status(make, week, FIRST - timedelta(days=1), None) == "ongoing"
    assert _status(make, week, FIRST - timedelta(days=1), after) == "cleared"
    assert _status(make, week, FIRST - timedelta(days=1), before) is None
    assert _status(make, week, LAST + timedelta(days=1), None) is None


@given(st.integers(-30, 30), st.one_of(st.none(), st.integers(0, 40)))
def test_each_finding_is_new_in_one_week_exactly(make, offset, length):
    crossed = FIRST + timedelta(days=offset)
    end = None if length is None else midnight(crossed, make.zone) + timedelta(days=length, hours=1)
    weeks = [
        period_between(FIRST + timedelta(days=7 * k), LAST + timedelta(days=7 * k), make.zone)
        for k in range(-6, 12)
    ]
    told = [_status(make, week, crossed, end) for week in weeks]
    seen = [status for status in told if status]
    assert seen[0] == "new" and seen.count("new") == 1
    assert seen.count("cleared") <= 1
    assert set(seen[1:-1]) <= {"ongoing"}
    # Once seen it is seen every week until it is over: no holes.
    first = told.index("new")
    assert told[first : first + len(seen)] == seen


def test_one_finding_an_id(make, week):
    short, long = (_finding(make, FIRST, week.start + timedelta(days=k)) for k in (1, 3))
    assert of_period([short, long], week, NOBODY) == of_period([long, short], week, NOBODY)
    assert [f.end for f in of_period([short, long], week, NOBODY)] == [long.end]
    still = _finding(make, FIRST)
    assert [f.end for f in of_period([long, still], week, NOBODY)] == [None]


def test_the_newest_verdict_counts(make, week):
    finding = _finding(make, FIRST)
    both = pl.concat([_verdict(finding, "dismissed", 14), _verdict(finding, "confirmed", 12)])
    assert of_period([finding], week, both)[0].verdict == "dismissed"
    assert of_period([finding], week, NOBODY)[0].verdict == ""


def test_order_is_severity_then_how_far_past_tolerance(make, week):
    found = [
        _finding(make, FIRST, tag="A", severity="note"),
        _finding(make, FIRST, tag="B", estimate=0.3, ci_low=0.2, ci_high=0.4, tolerance=0.2),
        _finding(make, FIRST, tag="C", estimate=-0.9, ci_low=-1.0, ci_high=-0.8, tolerance=0.2),
        _finding(make, FIRST, tag="D", severity="act"),
    ]
    assert [f.tag for f in of_period(found, week, NOBODY)] == ["D", "C", "B", "A"]
    assert of_period(found[::-1], week, NOBODY) == of_period(found, week, NOBODY)


@pytest.fixture(scope="module")
def cases(make):
    """Fourteen tags, each with its own instrument; the twelfth guards a limit."""
    frame = make.frame(make.grid(make.local(2026, 11, 9), 0.1), [7.0] * 10)
    found = {}
    for k in range(14):
        tag = make.tag(tag=f"AIT-{k}", instrument=f"AE-{k}")
        device = make.instrument(instrument=f"AE-{k}", guards="L1" if k == 12 else "")
        found[tag.tag] = make.case(frame, tag=tag, instrument=device)
    return found


def _of(make, k, **changes):
    return _finding(make, FIRST, tag=f"AIT-{k}", instrument=f"AE-{k}", **changes)


def test_one_entry_an_instrument_led_by_its_worst(make, cases):
    found = [_of(make, 1), _of(make, 1, kind="frozen", severity="act"), _of(make, 2)]
    entries, more = calibration_list(found, cases)
    assert [(e.rank, e.finding.kind, len(e.also)) for e in entries] == [(1, "frozen", 1), (2, "drift", 0)]
    assert more == 0


def test_what_asks_for_nobodys_time_stays_off_the_list(make, cases):
    found = [
        _of(make, 1, severity="note"),
        replace(_of(make, 2), status="cleared"),
        replace(_of(make, 3), verdict="dismissed"),
        replace(_of(make, 4), verdict="process"),
        replace(_of(make, 5), verdict="confirmed"),
    ]
    assert [e.finding.tag for e in calibration_list(found, cases)[0]] == ["AIT-5"]


def test_the_list_ends_and_says_how_many_more(make, cases):
    entries, more = calibration_list([_of(make, k) for k in range(14)], cases)
    assert len(entries) == LONGEST_LIST == 10
    assert more == 4
    assert entries[0].finding.tag == "AIT-12", "the one that guards a limit comes first"


def test_last_calibration_is_a_calibration(make, cases):
    done = pl.concat(
        [make.services([make.local(2026, 10, 1)]), make.services([make.local(2026, 10, 20)], kind="cleaning")]
    )
    case = replace(cases["AIT-1"], services=done)
    (entry,) = calibration_list([_of(make, 1)], {**cases, "AIT-1": case})[0]
    assert entry.last_calibrated == "1 Oct 2026"


def _excursion(make, start_hour, hours=1, tag="AIT-101"):
    start = make.local(2026, 11, 10) + timedelta(hours=start_hour)
    end = start + timedelta(hours=hours)
    return Excursion(make.limit(tag=tag, high=8.5), start, end, 60.0 * hours, 9.0, start, 1.0, "pH")


def test_an_excursion_points_at_what_casts_doubt_on_it(make):
    begin = make.local(2026, 11, 10)
    frozen = replace(
        _finding(make, FIRST, kind="frozen"), start=begin + timedelta(hours=5), end=begin + timedelta(hours=8)
    )
    doubts = [
        e.instrument_doubt for e in with_doubt([_excursion(make, h) for h in (3, 4.5, 6, 7.5, 8)], [frozen])
    ]
    assert doubts == ["", frozen.finding_id, frozen.finding_id, frozen.finding_id, ""]


def test_no_doubt_from_other_tags_or_from_a_gap_or_a_dismissed_suspicion(make):
    excursion = _excursion(make, 3)
    for finding in (
        _finding(make, FIRST, tag="AIT-7"),
        _finding(make, FIRST, kind="gap"),
        _finding(make, FIRST, verdict="dismissed"),
        _finding(make, FIRST, verdict="process"),
    ):
        assert with_doubt([excursion], [finding])[0].instrument_doubt == ""
    assert with_doubt([excursion], [_finding(make, FIRST, verdict="confirmed")])[0].instrument_doubt
