"""Means of 7 and 30 days, weeks, months and years; geometric means; non-detects and rounding."""

from datetime import date, timedelta

import numpy as np
import pytest

END = date(2026, 6, 30)
FIRST = date(2026, 6, 1)


def _days(values, first=FIRST):
    return {first + timedelta(days=k): value for k, value in enumerate(values)}


def _judge(make, judged, sampled, statistic, results, first=FIRST, last=END, as_of=None, **limit):
    end = as_of or last + timedelta(days=1)
    case = sampled(results, make.local(end.year, end.month, end.day), unit="mg/L", measures="bod")
    return judged.by_case(statistic, case, first, last, basis="lab", **limit)


def test_arithmetic_mean_of_the_monitoring_handout(make, judged, sampled):
    """5.30, 6.21, 4.00, 5.25, 8.72: 29.48 / 5 = 5.896, reported 5.90 (monitoring handout, 5y1.org)."""
    found = _judge(
        make, judged, sampled, "month_mean", _days([5.30, 6.21, 4.00, 5.25, 8.72]), high=30, rounding=2
    )
    assert found.raw == pytest.approx(5.896, abs=1e-12)
    assert (found.value, found.status) == (5.90, "within")


def test_geometric_mean_of_the_monitoring_handout(make, judged, sampled):
    """50, 100, 150, 200: the fourth root of 1.5e8 is 110.67 (data and product: 5y1.org; root computed)."""
    for statistic in ("month_geometric_mean", "week_geometric_mean"):
        found = _judge(
            make,
            judged,
            sampled,
            statistic,
            _days([50, 100, 150, 200]),
            last=date(2026, 6, 7),
            as_of=date(2026, 7, 1),
            high=126,
            week_starts="monday",
        )
        assert found.value == pytest.approx(110.67, abs=0.005)
        assert found.value**4 == pytest.approx(1.5e8, rel=1e-12)


# 40 CFR 133.102: BOD5 30-day mean at most 30, 7-day mean at most 45 mg/L; 133.101: arithmetic means.
@pytest.mark.parametrize(("tail", "status"), [(45.0, "near"), (45.1, "outside"), (40.0, "within")])
def test_seven_days_on_end(make, judged, sampled, tail, status):
    results = _days([20.0] * 23 + [tail] * 7)
    found = _judge(make, judged, sampled, "seven_day_mean", results, first=END, high=45.0, at_least=7)
    assert (found.value, found.status) == (pytest.approx(tail), status)
    assert found.note.startswith("7 days to Tue 30 Jun 2026")


def test_seven_days_end_on_any_day_of_the_period(make, judged, sampled):
    """The week that ends inside the period is found, not the period's own."""
    results = _days([20.0] * 10 + [50.0] * 7 + [20.0] * 13)
    found = _judge(make, judged, sampled, "seven_day_mean", results, high=45.0, at_least=7)
    assert (found.status, found.value) == ("outside", 50.0)
    assert "17 Jun" in found.note


@pytest.mark.parametrize(("last", "status"), [(30.0, "near"), (31.0, "outside")])
def test_thirty_days_on_end(make, judged, sampled, last, status):
    results = _days([30.0] * 29 + [last])
    found = _judge(make, judged, sampled, "thirty_day_mean", results, first=END, high=30.0, at_least=30)
    assert found.status == status
    assert found.value == pytest.approx((30.0 * 29 + last) / 30)


def test_several_samples_of_a_day_are_one_value(make, judged, sampled):
    """Daily discharges are averaged (40 CFR 122.2): 10 and 20 on one day, 30 on another: 22.5, not 20."""
    results = {(FIRST, 8): 10.0, (FIRST, 16): 20.0, FIRST + timedelta(days=7): 30.0}
    found = _judge(make, judged, sampled, "month_mean", results, high=30.0)
    assert found.value == 22.5


def test_too_few_samples_are_not_assessable(make, judged, sampled):
    found = _judge(make, judged, sampled, "month_mean", _days([10, 10]), high=30, at_least=4)
    assert (found.status, found.coverage_pct) == ("not assessable", 50.0)
    assert _judge(make, judged, sampled, "month_mean", {}, high=30).status == "not assessable"


@pytest.mark.parametrize(
    ("statistic", "what"), [("month_mean", "sampled days"), ("month_geometric_mean", "results")]
)
def test_a_mean_takes_as_many_results_as_it_asks_for(make, judged, sampled, statistic, what):
    """Four a month are asked for: three are not four, however high or low they are."""
    for value in (10, 90):
        found = _judge(make, judged, sampled, statistic, _days([value] * 3), high=30, at_least=4)
        assert (found.status, found.lacks) == ("not assessable", f"3 of 4 {what}")
        assert found.value == pytest.approx(value)
    four = _judge(make, judged, sampled, statistic, _days([10] * 4), high=30, at_least=4)
    assert (four.status, four.lacks) == ("within", "")


def test_two_samples_of_a_day_are_no_second_sampled_day(make, judged, sampled):
    results = {(FIRST, 8): 10.0, (FIRST, 16): 20.0, FIRST + timedelta(days=7): 30.0}
    found = _judge(make, judged, sampled, "month_mean", results, high=50.0, at_least=3)
    assert (found.status, found.lacks) == ("not assessable", "2 of 3 sampled days")


def test_a_median_of_non_detects_takes_as_many_too(make, judged, sampled):
    results = _days(["<1", 2, 3])
    found = _judge(make, judged, sampled, "month_mean", results, high=30, at_least=4, non_detect="median")
    assert (found.value, found.status, found.lacks) == (2, "not assessable", "3 of 4 sampled days")


def test_a_non_detect_without_a_rule_is_said_to_be_the_reason(make, judged, sampled):
    found = _judge(make, judged, sampled, "month_mean", _days(["<1", 2]), high=30)
    assert found.status == "not assessable" and "non_detect" in found.lacks


@pytest.mark.parametrize(("starts", "value"), [("sunday", 10.0), ("monday", 20.0)])
def test_the_permit_says_how_the_week_begins(make, judged, sampled, starts, value):
    """Sunday 7 June has 80 and the six days after it, and before it, 10 each."""
    results = _days([10.0] * 6 + [80.0] + [10.0] * 7)
    found = _judge(
        make,
        judged,
        sampled,
        "week_mean",
        results,
        first=date(2026, 6, 2),
        last=date(2026, 6, 3),
        as_of=date(2026, 6, 15),
        high=45,
        week_starts=starts,
    )
    assert found.value == pytest.approx(value)


def test_means_of_the_trend_are_those_of_pandas(make, month, judged):
    import pandas as pd

    data = month(date(2026, 5, 1), END, level=3.0)
    series = pd.Series(data.value, pd.DatetimeIndex(data.times.to_list()).tz_convert("America/Denver"))
    daily = series.resample("1D").mean()
    found = judged("month_mean", data.frame(), FIRST, END, high=9)
    assert found.value == pytest.approx(daily["2026-06"].mean(), rel=1e-12)
    for statistic, length in (("seven_day_mean", 7), ("thirty_day_mean", 30)):
        rolled = daily.rolling(length).mean()["2026-06"]
        found = judged(statistic, data.frame(), FIRST, END, high=9)
        assert found.value == pytest.approx(rolled.max(), rel=1e-12)
        assert found.status == "within"


# Running annual average of 40 CFR 141.133(c)(1)(i) against the chlorine maximum of 4.0 mg/L (141.65(a)).
def _year(level):
    return {date(2025 + m // 12, m % 12 + 1, d): level(m) for m in range(6, 18) for d in (5, 20)}


def test_one_high_month_is_not_outside_by_itself(make, judged, sampled):
    results = _year(lambda m: 9.0 if m == 10 else 1.0)
    found = _judge(make, judged, sampled, "running_annual_average", results, high=4.0)
    assert found.value == pytest.approx((9.0 + 11 * 1.0) / 12)
    assert (found.status, found.coverage_pct, found.so_far) == ("within", 100.0, False)


def test_it_is_the_mean_of_months_not_of_samples(make, judged, sampled):
    """A month sampled twenty times weighs no more than one sampled twice."""
    results = _year(lambda _: 1.0) | {date(2026, 3, d): 5.0 for d in range(1, 29)}
    found = _judge(make, judged, sampled, "running_annual_average", results, high=4.0)
    assert found.value == pytest.approx((11 * 1.0 + 5.0) / 12)


def test_above_the_maximum_over_the_year(make, judged, sampled):
    found = _judge(make, judged, sampled, "running_annual_average", _year(lambda _: 4.01), high=4.0)
    assert found.status == "outside"


def test_less_than_a_year_of_months_is_not_assessable(make, judged, sampled):
    results = {day: value for day, value in _year(lambda _: 1.0).items() if day >= date(2026, 1, 1)}
    found = _judge(make, judged, sampled, "running_annual_average", results, high=4.0)
    assert (found.status, found.coverage_pct) == ("not assessable", 50.0)


# 7DADM from memory (state water-quality standards); the arithmetic computed.
SEVEN = [17.2, 17.5, 18.1, 18.4, 18.9, 18.6, 18.0]


@pytest.mark.parametrize(
    ("statistic", "dated"), [("seven_day_max_centred", "Thu 4 Jun"), ("seven_day_max_trailing", "Sun 7 Jun")]
)
def test_mean_of_seven_daily_maxima(make, month, judged, statistic, dated):
    data = month(FIRST, date(2026, 6, 7), level=10.0)
    for k, highest in enumerate(SEVEN):
        data.value[k * 96 + 60] = highest
    found = judged(statistic, data.frame(), date(2026, 6, 7), date(2026, 6, 7), high=18.0)
    assert found.value == pytest.approx(18.1, abs=1e-9)
    assert found.status == "outside"
    assert found.note.endswith(f"dated {dated}")


def test_five_known_days_are_no_seven_day_mean_of_maxima(month, judged):
    data = month(FIRST, date(2026, 6, 7), level=10.0)
    good = np.arange(len(data.times)) < 5 * 96
    found = judged(
        "seven_day_max_trailing", data.frame(good=good), date(2026, 6, 7), date(2026, 6, 7), high=18
    )
    assert found.status == "not assessable"


# Non-detects. Zero: permit language, 1, 2 and "less than" give 1. Median: a California permit. The value
# after "<" in geometric means: a Colorado permit.
def test_non_detect_as_zero(make, judged, sampled):
    results = _days([1, 2, "<0.5"])
    assert _judge(make, judged, sampled, "month_mean", results, high=9, non_detect="zero").value == 1.0


@pytest.mark.parametrize(("rule", "value"), [("half", 3.25 / 3), ("limit", 3.5 / 3), ("median", 1.0)])
def test_other_rules_for_non_detects(make, judged, sampled, rule, value):
    results = _days([1, 2, "<0.5"])
    found = _judge(make, judged, sampled, "month_mean", results, high=9, non_detect=rule)
    assert found.value == pytest.approx(value)


def test_the_number_after_less_than_in_a_geometric_mean(make, judged, sampled):
    results = _days(["<10", 1000])
    found = _judge(make, judged, sampled, "month_geometric_mean", results, high=126, non_detect="limit")
    assert found.value == pytest.approx(100.0)


def test_a_non_detect_without_a_rule_has_no_mean(make, judged, sampled):
    for statistic in ("month_mean", "month_geometric_mean", "seven_day_mean", "running_annual_average"):
        found = _judge(make, judged, sampled, statistic, _days([1, 2, "<0.5"]), high=9)
        assert (found.status, found.value) == ("not assessable", None)


# Rounding of the general US drinking-water rule: 0.0105 to 0.011 and 0.0104 to 0.010 (EPA, Water Supply
# Guidance 21). On 0.3 and 1 NTU: common state practice, from memory.
@pytest.mark.parametrize(
    ("value", "decimals", "rounded"),
    [(0.0105, 3, 0.011), (0.0104, 3, 0.010), (0.34, 1, 0.3), (0.35, 1, 0.4), (1.4, 0, 1.0), (1.5, 0, 2.0)],
)
def test_five_rounds_up(make, value, decimals, rounded):
    assert make.limit(high=1, rounding=decimals).rounded(value) == rounded
    assert make.limit(high=1).rounded(value) == value


def test_raw_and_rounded_are_both_told(month, judged):
    data = month(FIRST, date(2026, 6, 7))
    data.value[100] = 0.34
    week = (FIRST, date(2026, 6, 7))
    found = judged("instantaneous", data.frame(), *week, high=0.3, rounding=1)
    assert (found.value, found.raw, found.status) == (0.3, 0.34, "near")
    assert judged("instantaneous", data.frame(), *week, high=0.3).status == "outside"
    data.value[100] = 0.35
    assert judged("instantaneous", data.frame(), *week, high=0.3, rounding=1).status == "outside"
