"""Instrument doubt: a result over the interval of the error is that of the record less the error."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import numpy as np
import polars as pl
import pytest

from pipeline.clock import period_between
from pipeline.config.load import Plant
from pipeline.config.plant import PlantFile
from pipeline.finding import Finding
from pipeline.judge import assess_all, with_doubts
from pipeline.tally.doubt import in_share, less

WEEK = (date(2026, 11, 9), date(2026, 11, 15))
BEGAN = datetime(2026, 10, 1, 6, tzinfo=UTC)


def _finding(**changes):
    given = {
        "tag": "AIT-101",
        "instrument": "AE-101",
        "kind": "drift",
        "severity": "watch",
        "crossed": date(2026, 10, 20),
        "start": BEGAN,
        "end": None,
        "reference": "lab grab",
        "evidence": "reads low",
        "check_first": "a grab",
        "unit": "mg/L",
        "estimate": -0.2,
        "ci_low": -0.3,
        "ci_high": -0.1,
        "status": "ongoing",
    }
    return Finding(**(given | changes))


@pytest.fixture(scope="module")
def record(make):
    """Eight weeks about 0.45 mg/L up to the end of the week."""
    times = make.grid(make.local(2026, 9, 21), 56 + 1 / 24)
    value = 0.45 + 0.01 * np.sin(np.arange(len(times)))
    return times, value


@pytest.fixture
def judge(make, record):
    def assess(findings, frame=None, measures="chlorine", **limit):
        tag = make.tag(measures=measures, unit="mg/L", low=0.0, high=5.0)
        case = make.case(make.frame(*record) if frame is None else frame, tag=tag)
        row = make.limit(**limit)
        area = {"id": "plant", "name": "Plant", "plant": "water"}
        file = PlantFile.model_validate({"name": "P", "time_zone": "America/Denver", "area": [area]})
        plant = Plant(Path(), file, {tag.tag: tag}, {}, {row.limit_id: row})
        period = period_between(*WEEK, make.zone)
        cases = {tag.tag: case}
        (found,) = with_doubts(plant, cases, period, assess_all(plant, cases, period), findings)
        return found

    return assess


@pytest.mark.parametrize(
    ("error", "low", "statuses"),
    [
        ((-0.3, -0.1), 0.3, ("within",)),
        ((-0.3, -0.1), 0.545, ("within", "outside")),  # 0.74 and 0.54
        ((-0.3, -0.1), 0.9, ("outside",)),
        ((0.1, 0.3), 0.2, ("within", "outside")),  # kept as recorded, and perhaps not in truth
    ],
)
def test_both_ends_are_the_record_less_the_error(judge, make, record, error, low, statuses):
    found = judge([_finding(ci_low=error[0], ci_high=error[1], estimate=sum(error) / 2)], low=low)
    assert found.doubt.statuses == statuses
    times, value = record
    by_hand = [judge([], make.frame(times, np.maximum(value - end, 0)), low=low) for end in error]
    less_the_amount = found.doubt.looks[:2]
    assert [value for value, _ in less_the_amount] == pytest.approx([one.value for one in by_hand])
    assert [status for _, status in less_the_amount] == [one.status for one in by_hand]


def test_a_lost_share_of_the_reading_is_little_where_it_reads_little(judge, make, record):
    """0.29 mg/L too low at 0.61 mg/L: 0.06 is 0.35 if that is an amount, 0.06 / (0.61 / 0.90) if a share."""
    times, _ = record
    value = np.full(len(times), 0.61)
    value[-300:-280] = 0.06
    off = _finding(ci_low=-0.29, ci_high=-0.29, estimate=-0.29)
    found = judge([off], make.frame(times, value), low=0.2)
    assert [value for value, _ in found.doubt.looks] == pytest.approx([0.35, 0.35, 0.0885, 0.0885], abs=1e-4)
    assert found.doubt.statuses == ("within", "outside")


@pytest.mark.parametrize("measures", ["ph", "temperature", "level"])
def test_what_goes_off_by_an_amount_is_judged_by_it_alone(make, record, measures):
    case = make.case(make.frame(*record), tag=make.tag(measures=measures, low=0.0))
    assert in_share(case, _finding(), -0.2).readings.equals(less(case, _finding(), -0.2).readings)


@pytest.mark.parametrize(("measures", "looks"), [("temperature", 2), ("chlorine", 4)])
def test_an_interval_has_two_ends_and_each_is_judged_once(judge, measures, looks):
    found = judge([_finding()], measures=measures, low=0.5)
    assert len(found.doubt.looks) == looks


def test_the_result_itself_and_the_record_stay_as_they_are(judge):
    doubted, plain = judge([_finding()], low=0.5), judge([], low=0.5)
    assert replace(doubted, doubt=None) == plain
    assert plain.doubt is None
    assert doubted.status == "outside"


def test_an_error_that_grew_was_nothing_before_it_began(make, record):
    """0.2 by now at 0.05 a week: 0.15 a week ago, nothing four weeks ago."""
    times, value = record
    case = make.case(make.frame(times, value), tag=make.tag(low=0.0))
    finding = _finding(start=case.as_of - timedelta(weeks=6), rate_per_week=-0.05)
    shifted = less(case, finding, -0.2)
    ago = (case.as_of - shifted.readings["time"]).dt.total_seconds() / 604_800
    grown = np.clip(0.2 - 0.05 * ago.to_numpy(), 0, None)
    assert shifted.readings["value"].to_numpy() - value[: len(ago)] == pytest.approx(grown, abs=1e-9)
    assert case.readings["value"].to_list() == pytest.approx(value[: len(ago)].tolist())


def test_a_step_holds_from_its_first_day_to_its_last(make, record):
    times, value = record
    case = make.case(make.frame(times, value), tag=make.tag(low=0.0))
    finding = _finding(start=make.local(2026, 10, 12), end=make.local(2026, 10, 19), kind="step")
    changed = less(case, finding, 0.1).readings.filter(
        (pl.col("value") - pl.Series(value[: case.readings.height])).abs() > 1e-9
    )
    assert changed["time"][0] == make.local(2026, 10, 12)
    assert changed["time"][-1] == make.local(2026, 10, 19) - timedelta(minutes=15)


def test_no_reading_falls_below_the_foot_of_the_span(make, record):
    times, value = record
    case = make.case(make.frame(times, value), tag=make.tag(low=0.0))
    assert less(case, _finding(), 2.0).readings["value"].min() == 0.0


@pytest.mark.parametrize(
    "changes",
    [
        {"severity": "note"},
        {"status": "cleared"},
        {"verdict": "dismissed"},
        {"verdict": "process"},
        {"kind": "gap"},
        {"tag": "AIT-999"},
        {"end": datetime(2026, 11, 1, tzinfo=UTC)},
    ],
)
def test_what_casts_no_doubt(judge, changes):
    assert judge([_finding(**changes)], low=0.5).doubt is None


def test_what_the_bench_measured_is_in_no_doubt(judge):
    found = judge([_finding()], low=0.5, statistic="month_mean", basis="lab")
    assert found.doubt is None


def test_without_an_error_named_nothing_is_reckoned(judge):
    found = judge([_finding(kind="noisy", estimate=None, ci_low=None, ci_high=None)], low=0.5)
    assert (found.doubt.kind, found.doubt.error, found.doubt.looks) == ("noisy", None, ())


def test_a_finding_of_many_tags_casts_its_doubt_on_each(judge):
    silent = {"kind": "frozen", "estimate": None, "ci_low": None, "ci_high": None, "tag": "LIT-101"}
    assert judge([_finding(**silent, others=("AIT-101",))], low=0.5).doubt.tag == "LIT-101"
    named = _finding(tag="LIT-101", others=("AIT-101",))
    assert judge([named], low=0.5).doubt is None, "another tag's error is not this one's"


def test_of_two_findings_the_one_that_names_an_error_counts(judge):
    noisy = _finding(kind="noisy", severity="act", estimate=None, ci_low=None, ci_high=None)
    assert judge([noisy, _finding()], low=0.5).doubt.finding_id == _finding().finding_id


def test_of_several_instruments_the_most_pressing_casts_the_doubt(make, record):
    """Percent removed rests on two turbidimeters, and findings come most pressing first."""
    times, value = record
    cases = {
        name: make.case(make.frame(times, value * scale), tag=make.tag(tag=name, unit="NTU", low=0.0))
        for name, scale in (("AIT-101", 1.0), ("AIT-102", 20.0))
    }
    row = make.limit(statistic="month_removal", second_tag="AIT-102", low=80.0)
    area = {"id": "plant", "name": "Plant", "plant": "water"}
    file = PlantFile.model_validate({"name": "P", "time_zone": "America/Denver", "area": [area]})
    plant = Plant(Path(), file, {name: case.tag for name, case in cases.items()}, {}, {row.limit_id: row})
    period = period_between(*WEEK, make.zone)
    first, second = _finding(tag="AIT-102", severity="act", ci_low=-1.0, ci_high=1.0), _finding()
    results = assess_all(plant, cases, period)
    (found,) = with_doubts(plant, cases, period, results, [first, second])
    assert found.doubt.tag == "AIT-102"
    (other,) = with_doubts(plant, cases, period, results, [second, first])
    assert other.doubt.tag == "AIT-101"
