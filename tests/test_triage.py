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
from pipeline.triage import (
    LONGEST_LIST,
    calibration_list,
    came_back,
    certainty,
    longest_list,
    of_period,
    with_doubt,
)

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
    assert entry.last_calibrated == date(2026, 10, 1)


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


def _sized(make, k, estimate, half, **changes):
    interval = {"ci_low": estimate - half, "ci_high": estimate + half, "tolerance": 0.2}
    return _of(make, k, estimate=estimate, **interval, **changes)


def test_certainty_is_the_share_of_the_interval_past_the_tolerance(make):
    """At the tolerance it is past it with 1/2, 1.645 sd beyond with .95 (any table of the normal)."""
    sd = 0.05
    assert certainty(_sized(make, 1, 0.2, 1.96 * sd)) == pytest.approx(0.5)
    assert certainty(_sized(make, 1, -0.2 - 1.645 * sd, 1.96 * sd)) == pytest.approx(0.95, abs=1e-3)
    assert certainty(_sized(make, 1, 0.01, 1.96 * sd)) == 0.05, "what is coming still has a place"
    alone = _sized(make, 1, 0.2, 1.96 * sd, reference="own history")
    assert certainty(alone) == pytest.approx(0.25)
    assert certainty(_of(make, 1, kind="frozen")) == 1.0


def test_rank_is_times_tolerance_by_what_it_guards_by_certainty(make, cases):
    """Twice its tolerance before once; a guard of a limit to act on counts three times, of another twice."""
    found = [_sized(make, k, 0.4 if k == 3 else 0.22, 0.02) for k in (1, 2, 3, 12)]
    act = make.limit(limit_id="L2", tag="AIT-2", severity="act", label="Entry chlorine", low=0.2)
    watch = make.limit(limit_id="L9", tag="AIT-99", severity="watch", low=0.2)
    entries, _ = calibration_list(found, cases, [act, watch])
    assert [entry.finding.tag for entry in entries] == ["AIT-2", "AIT-12", "AIT-3", "AIT-1"]
    weights = [entry.why.weight for entry in entries]
    assert weights == [3.0, 2.0, 1.0, 1.0]
    first = entries[0].why
    assert first.guards == ("Entry chlorine",)
    assert first.score == pytest.approx(1.1 * 3.0 * certainty(found[1]))
    assert calibration_list(found[::-1], cases, [watch, act])[0] == entries


def test_an_instrument_without_a_reading_stands_as_one_twice_its_tolerance_off(make, cases):
    dead = _of(make, 1, kind="pegged", severity="act")
    off = [_sized(make, k, size, 0.001, severity="act") for k, size in ((2, 0.39), (3, 0.41))]
    entries, _ = calibration_list([dead, *off], cases)
    assert [entry.finding.tag for entry in entries] == ["AIT-3", "AIT-1", "AIT-2"]


def test_one_entry_an_instrument_and_kind(make, cases):
    """A drift told by grabs and by its own past, and a kind that nobody knew when this was written."""
    by_grab = _sized(make, 1, 0.5, 0.05, severity="act")
    by_past = _sized(make, 1, 0.5, 0.05, reference="own history")
    older = replace(by_past, crossed=FIRST - timedelta(days=30))
    other = _of(make, 1, kind="never_heard_of")
    ((entry,), _) = calibration_list([older, other, by_past, by_grab], cases)
    assert entry.finding == by_grab
    assert [finding.kind for finding in entry.also] == ["never_heard_of"]


def test_a_days_list_is_shorter_than_a_weeks(make, week, cases):
    day = period_between(LAST, LAST, make.zone)
    assert (longest_list(day), longest_list(week)) == (3, 10)
    entries, more = calibration_list([_of(make, k) for k in range(14)], cases, most=longest_list(day))
    assert (len(entries), more) == (3, 11)


def test_an_answer_settles_every_trouble_of_the_tag_that_was_under_way(make, week):
    """Who dismissed the drift was there; what began later, elsewhere, or was over is another matter."""
    drift = _finding(make, FIRST)
    twin = _finding(make, FIRST + timedelta(days=2), kind="disagrees")
    later = replace(_finding(make, LAST, kind="step"), start=make.local(2026, 11, 14))
    elsewhere = _finding(make, FIRST, tag="AIT-7", kind="disagrees")
    over = _finding(make, FIRST, kind="frozen", end=drift.start - timedelta(hours=1))
    found = [drift, twin, later, elsewhere, over]
    told = of_period(found, week, _verdict(drift, "dismissed", 13))
    verdicts = {(f.tag, f.kind): f.verdict for f in told}
    assert verdicts == {
        ("AIT-101", "drift"): "dismissed",
        ("AIT-101", "disagrees"): "dismissed",
        ("AIT-101", "step"): "",
        ("AIT-7", "disagrees"): "",
        ("AIT-101", "frozen"): "",
    }
    confirmed = of_period(found, week, _verdict(drift, "confirmed", 13))
    assert [f.kind for f in confirmed if f.verdict] == ["drift"]


@pytest.mark.parametrize(
    ("kind", "day", "listed"),
    [("calibration", 13, False), ("replacement", 12, False), ("check", 13, True), ("calibration", 11, True)],
)
def test_what_is_over_and_was_serviced_since_is_off_the_list(make, cases, kind, day, listed):
    """It crossed on Monday and ended on Thursday the 12th; nobody need go there twice."""
    serviced = make.services([make.local(2026, 11, day, 10)], kind=kind)
    case = replace(cases["AIT-1"], services=serviced)
    over = replace(_of(make, 1), end=make.local(2026, 11, 12))
    entries, _ = calibration_list([over], {**cases, "AIT-1": case})
    assert bool(entries) is listed
    still = calibration_list([_of(make, 1)], {**cases, "AIT-1": case})[0]
    assert still, "what goes on in spite of a service stays on it"


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({}, True),
        ({"kind": "gap"}, False),  # its silence is told
        ({"severity": "note"}, False),  # it never asked
        ({"verdict": "process"}, False),  # somebody knows why
        ({"status": "ongoing", "end": None}, False),
        ({"status": "new"}, False),  # it asks
    ],
)
def test_what_came_back_by_itself_is_told_of_what_had_asked(make, cases, change, told):
    over = replace(_of(make, 1), end=make.local(2026, 11, 12), status="cleared")
    changed = replace(over, **change)
    assert came_back([changed], cases) == ([changed] if told else [])


@pytest.mark.parametrize(("day", "told"), [(13, False), (11, True)])
def test_what_was_serviced_since_did_not_come_back_by_itself(make, cases, day, told):
    case = replace(cases["AIT-1"], services=make.services([make.local(2026, 11, day, 10)]))
    over = replace(_of(make, 1), end=make.local(2026, 11, 12), status="cleared")
    assert bool(came_back([over], {**cases, "AIT-1": case})) is told


def test_what_still_asks_did_not_come_back(make, cases):
    over = replace(_of(make, 1), end=make.local(2026, 11, 12), status="cleared")
    assert came_back([over, replace(_of(make, 1), kind="noisy")], cases) == []


@pytest.mark.parametrize(("count", "entries"), [(2, 2), (3, 1), (9, 1)])
def test_a_missing_export_is_one_line_of_the_list(make, cases, count, entries):
    """Instruments do not fall silent together: it is what they share (common practice, no source)."""
    gaps = [_of(make, k, kind="gap") for k in range(count)]
    found, more = calibration_list(gaps, cases)
    assert (len(found), more) == (entries, 0)
    if entries == 1:
        assert set(found[0].finding.others) == {gap.tag for gap in gaps[1:]}
        assert f"{count - 1} more tags from the same moment" in found[0].finding.evidence


def _at_zero(make, k, minutes, **changes):
    finding = _of(make, k, kind="pegged", severity="act", reference="instrument's span", **changes)
    return replace(finding, start=finding.start + timedelta(minutes=minutes))


def test_standing_at_zero_together_is_no_instruments_fault(make, cases, week):
    """Pumps of one plant run down within minutes of each other (common practice, no source)."""
    over = make.local(2026, 11, 11)
    found = of_period([_at_zero(make, k, 4 * k, end=over) for k in range(3)], week, NOBODY)
    assert [one.severity for one in found] == ["note"] * 3
    assert all("2 more tags began to do so at the same moment" in one.evidence for one in found)
    two = of_period([_at_zero(make, k, 4 * k, end=over) for k in range(2)], week, NOBODY)
    assert [one.severity for one in two] == ["act"] * 2
    apart = of_period([_at_zero(make, k, 20 * k, end=over) for k in range(3)], week, NOBODY)
    assert [one.severity for one in apart] == ["act"] * 3
    lasting = [_at_zero(make, k, 4 * k) for k in range(3)]
    (entry,) = calibration_list(of_period(lasting, week, NOBODY), cases)[0]
    assert entry.finding.severity == "act" and len(entry.finding.others) == 2


def test_gaps_of_other_moments_are_lines_of_their_own(make, cases):
    gaps = [_of(make, k, kind="gap") for k in range(4)]
    apart = [replace(gap, start=gap.start + timedelta(hours=k)) for k, gap in enumerate(gaps)]
    assert len(calibration_list(apart, cases)[0]) == 4
