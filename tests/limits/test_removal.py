"""Removal: percent removed, from the means and not the mean of percentages."""

from datetime import date, timedelta

import pytest

FIRST, LAST = date(2026, 6, 1), date(2026, 6, 30)


def _judge(make, judged, sampled, influent, effluent, statistic="thirty_day_removal", **limit):
    as_of = make.local(2026, 7, 1)
    cases = [
        sampled({FIRST + timedelta(days=3 * k): v for k, v in enumerate(values)}, as_of, unit="mg/L")
        for values in (effluent, influent)
    ]
    given = {"basis": "lab", "at_least": 4, "low": 85.0, "second_tag": "AIT-500", **limit}
    return judged.by_case(statistic, cases[0], LAST, LAST, second=cases[1], **given)


def test_from_the_means_not_the_mean_of_daily_removals(make, judged, sampled):
    """40 CFR 133.101: 200 and 100 in, 10 and 30 out: 86.7 % of the means; the days' own mean is 82.5 %."""
    found = _judge(make, judged, sampled, [200, 100] * 4, [10, 30] * 4)
    assert found.value == pytest.approx(100 * (150 - 20) / 150)
    assert (found.status, found.unit) == ("within", "%")


# 40 CFR 133.102: 30-day removal at least 85 %.
@pytest.mark.parametrize("statistic", ["thirty_day_removal", "month_removal"])
@pytest.mark.parametrize(("out", "status"), [(30.0, "near"), (30.2, "outside"), (10.0, "within")])
def test_at_least_85_percent(make, judged, sampled, statistic, out, status):
    found = _judge(make, judged, sampled, [200.0] * 8, [out] * 8, statistic)
    assert found.status == status
    assert found.value == pytest.approx(100 * (200 - out) / 200)


def test_the_handbook_example(make, judged, sampled):
    """220 in, 12 out: 94.5 % (operator's formula sheets, percent removal)."""
    assert _judge(make, judged, sampled, [220.0] * 8, [12.0] * 8).value == pytest.approx(94.5, abs=0.05)


def test_it_says_which_of_the_two_has_too_few(make, judged, sampled):
    found = _judge(make, judged, sampled, [200.0] * 3, [10.0] * 8)
    assert (found.status, found.lacks) == ("not assessable", "AIT-500 3 of 4 sampled days")


@pytest.mark.parametrize(("influent", "effluent"), [([], [10] * 8), ([200] * 8, []), ([0] * 8, [0] * 8)])
def test_without_either_mean_it_is_not_assessable(make, judged, sampled, influent, effluent):
    assert _judge(make, judged, sampled, influent, effluent).status == "not assessable"
