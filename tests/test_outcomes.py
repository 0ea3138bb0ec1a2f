"""Outcomes: people's words first, else what the service found; each finding once."""

from datetime import date, datetime, timedelta

import polars as pl
import pytest

from pipeline.clock import midnight, period_between
from pipeline.finding import Finding
from pipeline.outcomes import ANSWERS, outcomes, unknown_answers
from pipeline.table import CALIBRATIONS, VERDICTS

CROSSED = date(2026, 9, 1)
SERVICED = date(2026, 9, 20)


@pytest.fixture(scope="module")
def week(make):
    return period_between(date(2026, 11, 9), date(2026, 11, 15), make.zone)


def _finding(make, crossed=CROSSED, **changes):
    given = {"tag": "AIT-101", "instrument": "AE-101", "kind": "drift", "severity": "watch"}
    words = {"reference": "lab grab", "evidence": "", "check_first": "", "unit": "pH", "tolerance": 0.2}
    start = midnight(crossed, make.zone)
    ends = {"start": start, "end": midnight(SERVICED, make.zone), "estimate": 0.3}
    return Finding(crossed=crossed, **{**given, **words, **ends, **changes})


def _case(make, as_found, kind="calibration", day=SERVICED):
    row = {"instrument": "AE-101", "time": midnight(day, make.zone) + timedelta(hours=9), "kind": kind}
    log = pl.DataFrame([{**row, "as_found": as_found, "reference": 7.0}], schema=CALIBRATIONS)
    frame = make.frame(make.grid(make.local(2026, 11, 9), 7), [7.0] * 672)
    return {"AIT-101": make.case(frame, instrument=make.instrument(), services=log)}


def _verdicts(*rows):
    made = [
        {"finding_id": f, "verdict": v, "by": "rl", "time": datetime.fromisoformat(f"{t}T12:00+00:00")}
        for f, v, t in rows
    ]
    return pl.DataFrame(made, schema=VERDICTS)


def _counted(frame):
    return {kind: dict(zip(ANSWERS, counts, strict=True)) for kind, *counts in frame.rows()}


@pytest.mark.parametrize(
    ("as_found", "answer"),
    [(7.3, "borne_out"), (7.11, "borne_out"), (7.08, "not_borne_out"), (6.7, "not_borne_out")],
)
def test_what_the_service_found_answers_where_nobody_did(make, week, as_found, answer):
    """A drift of +0.3 with a tolerance of 0.2: half of it on the same side bears it out."""
    told = outcomes([_finding(make)], _case(make, as_found), _verdicts(), week)
    assert _counted(told) == {"drift": {**dict.fromkeys(ANSWERS, 0), answer: 1}}


def test_a_persons_word_counts_before_the_numbers_and_the_last_word_last(make, week):
    finding = _finding(make)
    words = _verdicts(
        (finding.finding_id, "confirmed", "2026-09-21"), (finding.finding_id, "process", "2026-09-25")
    )
    told = _counted(outcomes([finding], _case(make, 7.3), words, week))
    assert told == {"drift": {**dict.fromkeys(ANSWERS, 0), "process": 1}}


def test_what_does_not_tell_is_not_counted(make, week):
    open_one, frozen = _finding(make, end=None), _finding(make, kind="frozen", estimate=None)
    note, old = _finding(make, severity="note"), _finding(make, crossed=date(2025, 11, 1))
    for finding in (open_one, frozen, note, old):
        assert outcomes([finding], _case(make, 7.3), _verdicts(), week).is_empty()
    only_checked = _case(make, 7.3, kind="check")
    before = _case(make, 7.3, day=CROSSED - timedelta(days=3))
    long_after = _case(make, 7.0, day=SERVICED + timedelta(days=40))
    for cases in (only_checked, before, long_after, _case(make, None)):
        assert outcomes([_finding(make)], cases, _verdicts(), week).is_empty()


def test_the_same_finding_twice_is_one(make, week):
    twice = [_finding(make), _finding(make, reference="own history")]
    assert _counted(outcomes(twice, _case(make, 7.3), _verdicts(), week))["drift"]["borne_out"] == 1


def test_answers_to_nothing_are_named(make):
    words = _verdicts(("AIT-101.drift.2026-09-01", "confirmed", "2026-09-21"), ("B", "process", "2026-09-25"))
    assert unknown_answers([_finding(make)], words) == ("B",)
    assert unknown_answers([_finding(make)], _verdicts()) == ()
