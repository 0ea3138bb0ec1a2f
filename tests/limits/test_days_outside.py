"""Days outside in a half-year: more than nine of them, and what a day without a result counts as."""

from datetime import date, timedelta

import polars as pl
import pytest

from pipeline.facts import SPANS

FIRST, LAST = date(2026, 1, 1), date(2026, 6, 30)


def _judge(make, judged, sampled, results, last=LAST, **limit):
    after = last + timedelta(days=1)
    case = sampled(results, make.local(after.year, after.month, after.day))
    return judged.by_case("days_outside_half_year", case, last, last, basis="lab", allow=9, **limit)


# 40 CFR 141.82(g): out of compliance if outside on more than nine days in a six-month period.
@pytest.mark.parametrize(("days", "status"), [(9, "near"), (10, "outside"), (8, "within")])
def test_more_than_nine_days(make, judged, sampled, days, status):
    results = {FIRST + timedelta(days=k): 6.5 if k < days else 7.4 for k in range(181)}
    found = _judge(make, judged, sampled, results, low=7.0)
    assert (found.value, found.status) == (days, status)
    assert found.note.startswith("Jan to Jun 2026")


def test_a_day_without_a_result_has_the_most_recent_earlier_one(make, judged, sampled):
    """Sampled fortnightly: one result outside stands for fourteen days."""
    results = {FIRST + timedelta(days=14 * k): 6.5 if k == 3 else 7.4 for k in range(13)}
    found = _judge(make, judged, sampled, results, low=7.0)
    assert (found.value, found.status) == (14, "outside")


def test_several_results_of_a_day_are_their_mean(make, judged, sampled):
    results = {
        (FIRST + timedelta(days=k), hour): 6.8 if hour == 8 else 7.4 for k in range(181) for hour in (8, 16)
    }
    assert _judge(make, judged, sampled, results, low=7.0).value == 0


def test_so_far(make, judged, sampled):
    results = {FIRST + timedelta(days=k): 7.4 for k in range(60)}
    found = _judge(make, judged, sampled, results, last=date(2026, 2, 28), low=7.0)
    assert (found.status, found.so_far) == ("within", True)


def test_a_non_detect_without_a_rule_is_not_passed_over(make, judged, sampled):
    """`<0.5` may lie below 0.2 or above it: what stands for it the limit must say (no national rule)."""
    results = {FIRST + timedelta(days=k): "<0.5" if k < 20 else 1.0 for k in range(181)}
    found = _judge(make, judged, sampled, results, low=0.2)
    assert (found.status, found.lacks != "") == ("not assessable", True)
    assert _judge(make, judged, sampled, results, low=0.2, non_detect="zero").value == 20


def test_days_out_of_service_are_not_missed(make, judged, month):
    """A well that ran from April on, and was known then, is known."""
    off = pl.DataFrame([{"start": make.local(2026, 1, 1), "end": make.local(2026, 4, 1)}], schema=SPANS)
    data = month(FIRST, LAST)
    found = judged("days_outside_half_year", data.frame(), FIRST, LAST, masked=off, high=0.9, allow=9)
    assert (found.status, found.coverage_pct) == ("within", 100)


def test_the_most_recent_earlier_result_may_be_of_the_half_year_before(make, judged, sampled):
    """40 CFR 141.82(g): a day without a result has the value of the most recent day that has one."""
    results = {date(2025, 12, 28): 6.5} | {date(2026, 1, 12) + timedelta(days=k): 7.4 for k in range(170)}
    found = _judge(make, judged, sampled, results, low=7.0)
    assert (found.value, found.status, found.coverage_pct) == (11, "outside", 100)
