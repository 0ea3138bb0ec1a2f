"""At four hours of a run: the pair of records there, whichever run, and nothing where no run came so far."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import polars as pl
import pytest

from pipeline.facts import SPANS

WEEK = (date(2026, 6, 1), date(2026, 6, 7))
# 40 CFR 141.175(b)(2): above 0.5 NTU in two consecutive measurements taken 15 minutes apart at the end of the
# first four hours of continuous filter operation after a backwash or a time off line.
LIMIT = {"high": 0.5}
START = 96  # row of the second day's midnight; four hours later is row 112


@pytest.fixture
def filtering(make, month, judged):
    """Judge a week of a filter put on at the second day's midnight, `hours` long; rows changed to values."""

    def assess(changes, hours=48.0, first=START, good=None, masked=None):
        data = month(*WEEK)
        for row, value in changes.items():
            data.value[row] = value
        begin = data.times[first]
        off = pl.DataFrame(
            {"start": [begin - timedelta(hours=1)], "end": [begin + timedelta(minutes=45)]}, schema=SPANS
        )
        case = make.case(
            data.frame(good=True if good is None else good(data)), masked=off if masked is None else masked
        )
        runs = pl.DataFrame({"start": [begin], "end": [begin + timedelta(hours=hours)]}, schema=SPANS)
        return judged.by_case("two_consecutive_at_four_hours", replace(case, runs=runs), *WEEK, **LIMIT)

    return assess


# A run from 00:00: its four hours end at 04:00, row 16 of it.
@pytest.mark.parametrize(
    ("rows", "status"),
    [
        ([15, 16], "outside"),  # 03:45 and 04:00
        ([16, 17], "outside"),  # 04:00 and 04:15
        ([16], "within"),  # one record is none
        ([15, 17], "within"),  # two, not on end
        ([8, 9], "within"),  # on end, but ripening at 02:00
        ([20, 21], "within"),  # on end, at 05:00
    ],
)
def test_two_on_end_at_the_end_of_four_hours(filtering, rows, status):
    found = filtering({START + row: 0.6 + 1e-3 * row for row in rows})
    assert found.status == status
    assert len(found.excursions) == (status == "outside")


def test_exactly_half_an_ntu_is_not_above_it(filtering):
    found = filtering({START + 15: 0.5, START + 16: 0.55})
    assert (found.status, found.value) == ("near", 0.5)


def test_the_value_is_the_one_that_both_reached(filtering):
    found = filtering({START + 15: 0.9, START + 16: 0.7})
    assert (found.value, found.worst_at.minute, found.note) == (0.7, 45, "1 of 1 runs")


@pytest.mark.parametrize("hours", [3.75, 1.0])
def test_a_run_that_ended_sooner_has_no_such_record(filtering, hours):
    found = filtering({START + 15: 0.9, START + 16: 0.9}, hours=hours)
    assert (found.status, found.value, found.note) == ("within", None, "no run reached four hours")


def test_a_missing_record_at_the_mark_is_not_assessable(filtering):
    def lost(data):
        good = np.ones(len(data.times), bool)
        good[START + 16] = False
        return good

    found = filtering({}, good=lost)
    assert (found.status, found.coverage_pct, found.note) == ("not assessable", 0.0, "0 of 1 runs")


@pytest.mark.parametrize(("value", "status"), [(0.05, "not assessable"), (0.9, "outside")])
def test_without_the_record_before_the_mark_only_outside_is_known(filtering, value, status):
    def lost(data):
        good = np.ones(len(data.times), bool)
        good[START + 15] = False
        return good

    found = filtering({START + 16: value, START + 17: value + 0.01}, good=lost)
    assert found.status == status


def test_a_mark_beyond_the_period_belongs_to_the_next(filtering):
    """Put on at 21:00 of the last day: four hours are over on the day after."""
    assert filtering({}, first=7 * 96 - 12).note == "no run reached four hours"


def test_no_record_at_all_is_not_assessable(filtering):
    found = filtering({}, hours=1.0, good=lambda data: np.zeros(len(data.times), bool))
    assert (found.status, found.value) == ("not assessable", None)
