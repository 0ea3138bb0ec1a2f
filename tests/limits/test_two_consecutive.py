"""Two consecutive: records are counted, not time; what triggers follow over two and three months."""

from datetime import date, timedelta

import numpy as np
import polars as pl
import pytest

FIRST, LAST = date(2026, 6, 1), date(2026, 6, 30)
WEEK = (date(2026, 6, 1), date(2026, 6, 7))
# 40 CFR 141.175(b) and 141.563: above 1.0 NTU in two consecutive measurements taken 15 minutes apart.
LIMIT = {"high": 1.0}


@pytest.mark.parametrize(
    ("rows", "status"),
    [([100], "within"), ([100, 101], "outside"), ([100, 102], "within"), ([100, 101, 102], "outside")],
)
def test_it_takes_two_on_end(month, judged, rows, status):
    data = month(*WEEK)
    data.value[rows] = 1.2 + np.array(rows) * 1e-4
    found = judged("two_consecutive", data.frame(), *WEEK, **LIMIT)
    assert found.status == status
    assert found.minutes_outside == (15 * len(rows) if status == "outside" else 0)


def test_exactly_the_limit_is_not_above_it(month, judged):
    data = month(*WEEK)
    data.value[[100, 101]] = [1.0, 1.3]
    found = judged("two_consecutive", data.frame(), *WEEK, **LIMIT)
    assert (found.status, found.value) == ("near", 1.0)


def test_a_missing_record_or_time_out_of_service_parts_two(month, judged):
    data = month(*WEEK)
    data.value[[100, 101, 102]] = [1.2, 1.3, 1.25]
    good = np.ones(len(data.times), bool)
    good[101] = False
    assert judged("two_consecutive", data.frame(good=good), *WEEK, **LIMIT).status == "within"
    masked = pl.DataFrame({"start": [data.times[101]], "end": [data.times[102]]})
    assert judged("two_consecutive", data.frame(), *WEEK, masked=masked, **LIMIT).status == "within"


def test_a_pair_over_the_end_of_the_period_belongs_to_its_second_record(month, judged):
    data = month(WEEK[0], date(2026, 6, 14))
    data.value[[7 * 96 - 1, 7 * 96]] = [1.2, 1.3]
    before = judged("two_consecutive", data.frame(), *WEEK, **LIMIT)
    after = judged("two_consecutive", data.frame(), date(2026, 6, 8), date(2026, 6, 14), **LIMIT)
    assert (before.status, after.status) == ("within", "outside")


def test_of_a_faster_record_the_quarters_of_the_hour_count(make, judged):
    times = make.grid(make.local(2026, 6, 1), 7, step_s=60)
    value = 0.05 + 0.01 * np.sin(np.arange(len(times)) / 5)
    value[601:615] = 1.5 + 1e-3 * np.arange(14)  # 14 minutes between two quarters
    tag = make.tag(step_s=60)
    assert judged("two_consecutive", make.frame(times, value), *WEEK, tag=tag, **LIMIT).status == "within"
    value[600:616] = 1.5 + 1e-3 * np.arange(16)  # 10:00 to 10:15, both included
    found = judged("two_consecutive", make.frame(times, value), *WEEK, tag=tag, **LIMIT)
    assert found.status == "outside"


def test_of_a_slower_record_nothing_can_be_said(make, judged):
    times = make.grid(make.local(2026, 6, 1), 7, step_s=3600)
    value = 0.05 + 0.01 * np.sin(np.arange(len(times)))
    found = judged("two_consecutive", make.frame(times, value), *WEEK, tag=make.tag(step_s=3600), **LIMIT)
    assert found.status == "not assessable"


def _quarter(month, pairs):
    """April to June with a pair above 1.0 (2.0) on the 10th of the months named."""
    data = month(date(2026, 4, 1), LAST)
    for number, level in pairs.items():
        row = (date(2026, number, 10) - date(2026, 4, 1)).days * 96 + 40
        data.value[[row, row + 1]] = [level, level + 0.01]
    return data.frame()


# Above 1.0 NTU in each of three consecutive months: self-assessment. Above 2.0 NTU in each of two:
# comprehensive evaluation. 40 CFR 141.175(b)(3) and (4), 141.563.
@pytest.mark.parametrize(
    ("pairs", "count", "status"),
    [
        ({4: 1.2, 5: 1.2, 6: 1.2}, 3, "outside"),
        ({5: 1.2, 6: 1.2}, 2, "within"),
        ({4: 1.2, 6: 1.2}, 1, "within"),
    ],
)
def test_three_months_on_end(month, judged, pairs, count, status):
    found = judged("months_in_a_row", _quarter(month, pairs), FIRST, LAST, high=1.0, allow=2)
    assert (found.value, found.status) == (count, status)


@pytest.mark.parametrize(("pairs", "status"), [({5: 2.2, 6: 2.2}, "outside"), ({5: 1.9, 6: 2.2}, "within")])
def test_two_months_on_end(month, judged, pairs, status):
    found = judged("months_in_a_row", _quarter(month, pairs), FIRST, LAST, high=2.0, allow=1)
    assert found.status == status


def test_an_earlier_month_that_is_not_known_may_have_been_one(month, judged):
    """June has its pair; May was recorded for three days only."""
    data = month(date(2026, 4, 1), LAST)
    row = (date(2026, 6, 10) - date(2026, 4, 1)).days * 96
    data.value[[row, row + 1]] = [2.2, 2.21]
    good = np.ones(len(data.times), bool)
    good[33 * 96 : 61 * 96] = False
    found = judged("months_in_a_row", data.frame(good=good), FIRST, LAST, high=2.0, allow=1)
    assert found.status == "not assessable"
    assert FIRST + timedelta(days=29) == LAST
