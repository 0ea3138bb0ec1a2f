"""Minutes outside: clocks of a day and a month, the longest on end, and the record that breaks off."""

from datetime import date, timedelta

import numpy as np
import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

FIRST, LAST = date(2026, 6, 1), date(2026, 6, 30)


def _at(day, hour, minute=0, first=FIRST):
    return (day - first.day) * 96 + hour * 4 + minute // 15


def _minutely(make, first, days, level=7.2):
    """A 1-minute pH record, never the same twice in a row."""
    times = make.grid(make.local(first.year, first.month, first.day), days, step_s=60)
    value = level + 0.05 * np.sin(np.arange(len(times)) / 7.0)
    return times, value


# 40 CFR 401.17 allows pH recorded continuously outside its range for 7 h 26 min a calendar month in all and
# 60 min at a time: both numbers from memory.
@pytest.mark.parametrize(("outside", "status"), [(446, "near"), (447, "outside"), (401, "within")])
def test_ph_total_of_a_month_from_memory(make, judged, outside, status):
    times, value = _minutely(make, FIRST, 30)
    spells, rest = divmod(outside, 50)
    for k in range(spells):
        value[1440 * k + 100 : 1440 * k + 150] = 9.3 + 1e-3 * np.arange(50)
    value[1440 * 20 : 1440 * 20 + rest] = 5.5 + 1e-3 * np.arange(rest)
    tag = make.tag(step_s=60)
    found = judged(
        "month_minutes", make.frame(times, value), FIRST, LAST, tag=tag, low=6.0, high=9.0, allow=446
    )
    assert (found.value, found.status) == (outside, status)
    assert (found.unit, found.high) == ("min", 446)


@pytest.mark.parametrize(("outside", "status"), [(60, "near"), (61, "outside"), (50, "within")])
def test_ph_at_a_time_from_memory(make, judged, outside, status):
    times, value = _minutely(make, FIRST, 7)
    value[2000 : 2000 + outside] = 9.3 + 1e-3 * np.arange(outside)
    week = (FIRST, FIRST + timedelta(days=6))
    found = judged(
        "longest_excursion",
        make.frame(times, value),
        *week,
        tag=make.tag(step_s=60),
        low=6.0,
        high=9.0,
        allow=60,
    )
    assert (found.value, found.status) == (outside, status)


def test_an_episode_over_the_end_of_a_month_is_shared_out_but_is_one(month, judged):
    """2 h over midnight of 30 June: an hour in each month's clock, and one excursion of two hours."""
    data = month(FIRST, date(2026, 7, 5), level=7.2)
    end = 30 * 96
    data.value[end - 4 : end + 4] = 9.5 + 1e-3 * np.arange(8)
    june = judged("month_minutes", data.frame(), FIRST, LAST, high=9.0, allow=446)
    july = judged("month_minutes", data.frame(), date(2026, 7, 1), date(2026, 7, 5), high=9.0, allow=446)
    assert (june.value, july.value) == (60, 60)
    for day in (LAST, date(2026, 7, 1)):
        one = judged("longest_excursion", data.frame(), day, day, high=9.0, allow=60)
        assert (one.value, one.status) == (120, "outside")


# 40 CFR 141.72(b)(2): not below 0.2 mg/L for more than 4 hours; with readings every 15 minutes 4 h 00 min are
# 16 readings and 4 h 15 min are 17.
@pytest.mark.parametrize(("readings", "minutes", "status"), [(16, 240, "near"), (17, 255, "outside")])
def test_residual_below_for_more_than_four_hours(month, judged, readings, minutes, status):
    data = month(FIRST, FIRST + timedelta(days=6), level=0.8)
    data.value[200 : 200 + readings] = 0.1 + 1e-3 * np.arange(readings)
    week = (FIRST, FIRST + timedelta(days=6))
    found = judged("longest_excursion", data.frame(), *week, low=0.2, allow=240)
    assert (found.value, found.status) == (minutes, status)


def test_a_gap_is_no_recovery(month, judged):
    """2 h below, 1 h without a reading, 2 h below: nobody saw it come back in 5 h."""
    data = month(FIRST, FIRST + timedelta(days=6), level=0.8)
    data.value[200:220] = 0.1 + 1e-3 * np.arange(20)
    good = np.ones(len(data.times), bool)
    good[208:212] = False
    week = (FIRST, FIRST + timedelta(days=6))
    found = judged("longest_excursion", data.frame(good=good), *week, low=0.2, allow=240)
    assert (found.value, found.status) == (300, "outside")
    assert [(e.minutes, e.minutes_unknown) for e in found.excursions] == [(240, 60)]


def test_a_record_that_breaks_off_outside_is_not_assessable(month, judged):
    """3 h below, then silence of a day, then inside: it may have been more than 4 h."""
    data = month(FIRST, FIRST + timedelta(days=6), level=0.8)
    data.value[200:212] = 0.1 + 1e-3 * np.arange(12)
    good = np.ones(len(data.times), bool)
    good[212:300] = False
    week = (FIRST, FIRST + timedelta(days=6))
    found = judged("longest_excursion", data.frame(good=good), *week, low=0.2, allow=240)
    assert found.status == "not assessable"
    assert found.coverage_pct > 80
    assert "may have lasted longer" in found.note


def test_minutes_of_a_day(month, judged):
    data = month(FIRST, FIRST + timedelta(days=6), level=7.2)
    data.value[_at(3, 10) : _at(3, 11)] = 9.5 + 1e-3 * np.arange(4)
    data.value[_at(3, 15) : _at(3, 15, 30)] = 9.6 + 1e-3 * np.arange(2)
    data.value[_at(5, 1) : _at(5, 2)] = 9.5 + 1e-3 * np.arange(4)
    week = (FIRST, FIRST + timedelta(days=6))
    assert judged("day_minutes", data.frame(), *week, high=9.0, allow=89).status == "outside"
    found = judged("day_minutes", data.frame(), *week, high=9.0, allow=90)
    assert (found.value, found.status) == (90, "near")
    assert found.note == "Wed 3 Jun 2026"


def _told(found):
    return [(one.minutes, one.allowance) for one in found.excursions]


def test_what_the_allowance_of_a_day_covers_is_no_exceedance(month, judged):
    """With 60 min a day allowed, 90 min on the 3rd are too many, and 60 min on the 5th are not."""
    data = month(FIRST, FIRST + timedelta(days=6), level=7.2)
    data.value[_at(3, 10) : _at(3, 11, 30)] = 9.5 + 1e-3 * np.arange(6)
    data.value[_at(5, 1) : _at(5, 2)] = 9.5 + 1e-3 * np.arange(4)
    week = (FIRST, FIRST + timedelta(days=6))
    found = judged("day_minutes", data.frame(), *week, high=9.0, allow=60)
    assert found.status == "outside"
    assert _told(found) == [(90, ""), (60, "60 of 60 min, Fri 5 Jun 2026")]
    kept = judged("day_minutes", data.frame(), *week, high=9.0, allow=90)
    assert [bool(one.allowance) for one in kept.excursions] == [True, True]


def test_an_episode_is_within_the_allowance_only_where_it_is_in_both_months(month, judged):
    """45 min of June and 15 min of July, 30 min a month allowed: too long for June, so not kept."""
    data = month(FIRST, date(2026, 7, 5), level=7.2)
    end = 30 * 96
    data.value[end - 3 : end + 1] = 9.5 + 1e-3 * np.arange(4)
    period = (date(2026, 6, 29), date(2026, 7, 5))
    assert _told(judged("month_minutes", data.frame(), *period, high=9.0, allow=30)) == [(60, "")]
    (kept,) = judged("month_minutes", data.frame(), *period, high=9.0, allow=446).excursions
    assert kept.allowance


def test_an_allowance_of_a_record_too_thin_is_not_called_kept(month, judged):
    data = month(FIRST, FIRST + timedelta(days=6), level=7.2)
    data.value[_at(3, 10) : _at(3, 11)] = 9.5 + 1e-3 * np.arange(4)
    good = np.ones(len(data.times), bool)
    good[_at(3, 12) : _at(4, 0)] = False
    third = (date(2026, 6, 3), date(2026, 6, 3))
    found = judged("day_minutes", data.frame(good=good), *third, high=9.0, allow=90)
    assert found.status == "not assessable"
    assert _told(found) == [(60, "")]


@given(st.lists(st.integers(0, 95), min_size=1, max_size=20, unique=True), st.sampled_from([(3, 8), (11, 1)]))
def test_days_add_up_to_the_month_over_both_nights_of_the_time_change(make, judged, rows, night):
    """A clock read every midnight and added up is the clock, on days of 23 and 25 hours too."""
    first = date(2026, night[0], night[1]) - timedelta(days=1)
    last = first + timedelta(days=2)
    start, end = (make.local(d.year, d.month, d.day) for d in (first, last + timedelta(days=1)))
    times = make.grid(start, (end - start) / timedelta(days=1))
    value = 7.2 + 0.01 * np.sin(np.arange(len(times)))
    for row in rows:
        value[row * 3 % len(times)] = 9.5 + row * 1e-3
    frame = make.frame(times, value)
    days = [
        judged("day_minutes", frame, first + timedelta(k), first + timedelta(k), high=9.0, allow=1e4).value
        for k in range(3)
    ]
    months = {(first + timedelta(k)).replace(day=1) for k in range(3)}
    whole = sum(
        judged("month_minutes", frame, max(m, first), min(last, _month_end(m)), high=9.0, allow=1e5).value
        for m in months
    )
    assert sum(days) == pytest.approx(whole, abs=1e-6)


def _month_end(first):
    return (first.replace(day=28) + timedelta(days=4)).replace(day=1) - timedelta(days=1)


def test_masked_time_is_on_no_clock(make, month, judged):
    data = month(FIRST, FIRST + timedelta(days=6), level=7.2)
    data.value[200:240] = 9.5 + 1e-3 * np.arange(40)
    masked = pl.DataFrame({"start": [data.times[204]], "end": [data.times[240]]})
    week = (FIRST, FIRST + timedelta(days=6))
    for statistic in ("month_minutes", "longest_excursion", "day_minutes"):
        found = judged(statistic, data.frame(), *week, masked=masked, high=9.0, allow=500)
        assert found.value == 60, statistic
