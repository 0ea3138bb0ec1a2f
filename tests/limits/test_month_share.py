"""Month share: the 95 % rule to the last reading, with the counts of three lengths of month."""

from datetime import date, timedelta

import numpy as np
import pytest

# 40 CFR 141.173(a)(1) and 141.551(a): at least 95 % of the month's measurements at most 0.3 NTU; six a day
# are the least of 40 CFR 141.74(c)(1). The arithmetic of the three months is that of the rule.
MONTHS = [
    (date(2026, 6, 1), date(2026, 6, 30), 180, 9, 95.00, "near"),
    (date(2026, 6, 1), date(2026, 6, 30), 180, 10, 94.44, "outside"),
    (date(2026, 7, 1), date(2026, 7, 31), 186, 9, 95.16, "near"),
    (date(2026, 7, 1), date(2026, 7, 31), 186, 10, 94.62, "outside"),
    (date(2026, 2, 1), date(2026, 2, 28), 168, 8, 95.24, "near"),
    (date(2026, 2, 1), date(2026, 2, 28), 168, 9, 94.64, "outside"),
]


@pytest.mark.parametrize(("first", "last", "due", "over", "share", "status"), MONTHS)
def test_95_percent_of_4_hourly_values(month, judged, first, last, due, over, share, status):
    data = month(first, last)
    data.value[np.arange(over) * 16 * 3] = 0.4  # every third 4-hour mark from the first on
    found = judged("month_share_four_hourly", data.frame(), first, last, high=0.3, allow=95)
    assert found.value == pytest.approx(share, abs=0.005)
    assert found.status == status
    assert found.note.startswith(f"{first:%b} 2026; {over} of {due} 4-hourly values outside")
    assert (found.low, found.high, found.unit) == (95, None, "%")


@pytest.mark.parametrize(("over", "status"), [(144, "near"), (145, "outside"), (100, "within")])
def test_every_reading_counts_where_the_rule_says_so(month, judged, over, status):
    """30 days of 96 readings are 2,880, and 5 % of them 144."""
    first, last = date(2026, 6, 1), date(2026, 6, 30)
    data = month(first, last)
    data.value[5 : 5 + over] = 0.4 + np.arange(over) * 1e-3
    found = judged("month_share", data.frame(), first, last, high=0.3, allow=95)
    assert found.status == status
    assert found.value == pytest.approx(100 - over / 28.8, abs=1e-9)


def test_readings_between_the_marks_do_not_count_four_hourly(month, judged):
    first, last = date(2026, 6, 1), date(2026, 6, 30)
    data = month(first, last)
    data.value[1::16] = 0.9
    found = judged("month_share_four_hourly", data.frame(), first, last, high=0.3, allow=95)
    assert (found.value, found.status) == (100.0, "within")


@pytest.mark.parametrize("first", [date(2026, 3, 1), date(2026, 11, 1)], ids=["23-hour day", "25-hour day"])
def test_six_marks_a_day_on_both_nights_of_the_time_change(month, judged, first):
    data = month(first, first + timedelta(days=27))
    found = judged(
        "month_share_four_hourly", data.frame(), first, first + timedelta(days=27), high=0.3, allow=95
    )
    assert "of 168 4-hourly" in found.note


def test_a_week_sees_the_month_so_far(month, judged):
    """The week of 8 to 14 June knows 14 days of the month: 84 marks."""
    first = date(2026, 6, 1)
    data = month(first, date(2026, 6, 14))
    data.value[:16] = 0.4  # one mark
    found = judged(
        "month_share_four_hourly", data.frame(), date(2026, 6, 8), date(2026, 6, 14), high=0.3, allow=95
    )
    assert found.so_far
    assert "1 of 84" in found.note
    assert found.value == pytest.approx(100 * 83 / 84)


def test_a_month_that_ended_outside_is_told_beside_one_that_has_just_begun_so(month, judged):
    """The monthly form asks for June (40 CFR 141.75(b)(1)); no page after this week's has it."""
    data = month(date(2026, 6, 1), date(2026, 7, 1))
    data.value[: 16 * 10] = 0.4 + np.arange(160) * 1e-3
    data.value[-96:] = 0.4 + np.arange(96) * 1e-3
    week = (date(2026, 6, 25), date(2026, 7, 1))
    found = judged("month_share_four_hourly", data.frame(), *week, high=0.3, allow=95)
    assert (found.status, found.so_far) == ("outside", False)
    assert found.note.startswith("Jun 2026; 10 of 180")


def test_a_week_over_the_end_of_a_month_judges_both(month, judged):
    """The week of 29 June to 5 July: June is whole and outside, July has five days and is inside."""
    data = month(date(2026, 6, 1), date(2026, 7, 5))
    data.value[: 16 * 10] = 0.4 + np.arange(160) * 1e-3
    week = (date(2026, 6, 29), date(2026, 7, 5))
    found = judged("month_share_four_hourly", data.frame(), *week, high=0.3, allow=95)
    assert (found.status, found.so_far) == ("outside", False)
    assert found.note.startswith("Jun 2026; 10 of 180")
    data.value[:160] = 0.05 + np.arange(160) * 1e-5
    found = judged("month_share_four_hourly", data.frame(), *week, high=0.3, allow=95)
    # Both are inside: June is what the monthly form asks for (40 CFR 141.75(b)(1)), July goes on.
    assert (found.status, found.so_far) == ("within", False)
    assert found.note.startswith("Jun 2026; 0 of 180")


def test_the_first_day_of_a_month_says_nothing_beside_the_month_that_ended(month, judged):
    """A week of 26 October to 1 November: October is judged, though of November nothing is known yet."""
    data = month(date(2026, 10, 1), date(2026, 11, 1))
    good = np.ones(len(data.times), bool)
    good[-96:] = False
    week = (date(2026, 10, 26), date(2026, 11, 1))
    found = judged("month_share_four_hourly", data.frame(good=good), *week, high=0.3, allow=95)
    assert (found.status, found.so_far) == ("within", False)
    assert found.note.startswith("Oct 2026")


@pytest.mark.parametrize("statistic", ["month_share", "month_share_four_hourly"])
def test_too_few_readings_prove_nothing_unless_it_is_outside_whatever_is_missing(month, judged, statistic):
    first, last = date(2026, 6, 1), date(2026, 6, 30)
    data = month(first, last)
    good = np.arange(len(data.times)) < 96 * 15
    half = judged(statistic, data.frame(good=good), first, last, high=0.3, allow=95)
    assert half.status == "not assessable"
    data.value[: 96 * 3] = 0.4 + np.arange(288) * 1e-4  # a tenth of the whole month
    found = judged(statistic, data.frame(good=good), first, last, high=0.3, allow=95)
    assert found.status == "outside"


def test_each_four_hourly_value_has_to_be_inside(month, judged):
    first, last = date(2026, 6, 1), date(2026, 6, 7)
    data = month(first, last)
    data.value[15] = 1.5
    assert judged("four_hourly", data.frame(), first, last, high=1.0).status == "within"
    data.value[16] = 1.5
    found = judged("four_hourly", data.frame(), first, last, high=1.0)
    assert (found.status, found.value, found.note) == ("outside", 1.5, "1 of 42 4-hourly values outside")
