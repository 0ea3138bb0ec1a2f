"""Daily mean, minimum and maximum against pandas, and what a day needs to count."""

from datetime import date, timedelta

import numpy as np
import pandas as pd
import polars as pl
import pytest

from pipeline.facts import SPANS

STATISTICS = {"daily_mean": "mean", "daily_min": "min", "daily_max": "max"}
# 8 March 2026 has 23 hours in Denver and 1 November 25 (tz database).
DAYS = [date(2026, 7, 14), date(2026, 3, 8), date(2026, 11, 1)]


@pytest.mark.parametrize("day", DAYS, ids=str)
@pytest.mark.parametrize("statistic", STATISTICS)
def test_days_are_those_of_pandas(make, judged, lively, statistic, day):
    """On a whole record every reading stands for one step, so that the plain mean of the day is exact."""
    data = lively(day - timedelta(days=1), days=4)
    series = pd.Series(data.value, index=pd.DatetimeIndex(data.times.to_list()).tz_convert("America/Denver"))
    expected = series.resample("1D").agg(STATISTICS[statistic]).iloc[:3]
    side = {"low": 0.0} if statistic == "daily_min" else {"high": 10.0}
    found = judged(
        statistic, make.frame(data.times, data.value), day - timedelta(1), day + timedelta(1), **side
    )
    assert [start for start, _ in found.days] == [stamp.to_pydatetime() for stamp in expected.index]
    assert [value for _, value in found.days] == pytest.approx(expected.to_list(), rel=1e-12)
    assert found.value == pytest.approx(expected.min() if statistic == "daily_min" else expected.max())
    assert (found.status, found.coverage_pct) == ("within", 100.0)


def test_mean_weights_a_reading_by_how_long_it_stood(make, judged):
    """1 for 30 min of every hour and 4 for the rest, recorded at :00, :30, :40 and :50: the mean is 2.5."""
    start = make.local(2026, 7, 14)
    offsets = [timedelta(hours=h, minutes=m) for h in range(24) for m in (0, 30, 40, 50)]
    values = [1.0 if o.seconds // 60 % 60 == 0 else 4.0 for o in offsets]
    frame = make.frame([start + o for o in offsets], values)
    found = judged("daily_mean", frame, date(2026, 7, 14), date(2026, 7, 14), high=3.0)
    assert found.value == pytest.approx(2.5)


@pytest.mark.parametrize(("known", "status"), [(0.76, "within"), (0.74, "not assessable")])
@pytest.mark.parametrize("statistic", STATISTICS)
def test_below_three_quarters_known_a_day_proves_nothing(make, judged, lively, statistic, known, status):
    day = date(2026, 7, 14)
    data = lively(day, days=1)
    good = np.arange(96) < 96 * known - 1  # the last good reading stands for its hold of two steps
    found = judged(statistic, make.frame(data.times, data.value, good=good), day, day, high=10.0)
    assert found.status == status
    assert found.coverage_pct == pytest.approx(100 * known, abs=1.1)


@pytest.mark.parametrize("statistic", ["daily_max", "daily_min"])
def test_an_extreme_outside_needs_no_whole_day(make, judged, lively, statistic):
    """One hour known of a day, and outside in it: the day's maximum (minimum) cannot have been inside."""
    day = date(2026, 7, 14)
    data = lively(day, days=1)
    frame = make.frame(data.times, data.value, good=np.arange(96) < 4)
    side = {"high": 0.01} if statistic == "daily_max" else {"low": 0.5}
    found = judged(statistic, frame, day, day, **side)
    assert found.status == "outside"
    assert found.coverage_pct < 75
    assert [e.start for e in found.excursions] == [make.local(2026, 7, 14)]


def test_a_mean_of_an_hour_is_no_mean_of_a_day(make, judged, lively):
    data = lively(date(2026, 7, 14), days=1)
    frame = make.frame(data.times, data.value, good=np.arange(96) < 4)
    found = judged("daily_mean", frame, date(2026, 7, 14), date(2026, 7, 14), high=0.01)
    assert (found.status, found.value) == ("not assessable", None)


def test_the_worst_day_decides(make, judged, lively):
    day = date(2026, 7, 14)
    data = lively(day, days=3)
    data.value[96:192] += 0.2
    found = judged("daily_mean", make.frame(data.times, data.value), day, day + timedelta(2), high=0.2)
    assert found.status == "outside"
    assert found.worst_at == make.local(2026, 7, 15)
    assert [e.start for e in found.excursions] == [make.local(2026, 7, 15)]
    assert found.minutes_outside == found.longest_minutes == 1440


def test_days_wholly_out_of_service_are_not_held_against_the_rest(make, judged, lively):
    """A filter that ran on Monday alone was inside its limit on every day it ran."""
    day = date(2026, 7, 14)
    data = lively(day, days=3)
    off = {"start": [make.local(2026, 7, 15)], "end": [make.local(2026, 7, 17)]}
    frame = make.frame(data.times, data.value, in_state=np.arange(288) < 96)
    found = judged(
        "daily_max", frame, day, day + timedelta(2), masked=pl.DataFrame(off, schema=SPANS), high=10.0
    )
    assert found.status == "within"


def test_out_of_service_all_week_is_not_assessable(make, judged, lively):
    day = date(2026, 7, 14)
    data = lively(day, days=3)
    off = {"start": [make.local(2026, 7, 14)], "end": [make.local(2026, 7, 17)]}
    frame = make.frame(data.times, data.value, in_state=False)
    for statistic in (*STATISTICS, "instantaneous"):
        found = judged(
            statistic, frame, day, day + timedelta(2), masked=pl.DataFrame(off, schema=SPANS), high=10.0
        )
        assert found.status == "not assessable"


@pytest.mark.parametrize("statistic", STATISTICS)
def test_days_that_are_not_known_are_named_and_those_that_ask_for_nothing_are_not(
    make, judged, lively, statistic
):
    """Of four days the second has four good hours, the third is out of service, the fifth has not begun."""
    first = date(2026, 7, 14)
    data = lively(first, days=4)
    good = np.ones(len(data.times), bool)
    good[96 + 16 : 192] = False
    idle = pl.DataFrame({"start": [make.local(2026, 7, 16)], "end": [make.local(2026, 7, 17)]}, schema=SPANS)
    frame = make.frame(data.times, data.value, good=good)
    found = judged(statistic, frame, first, first + timedelta(4), idle, make.local(2026, 7, 18), high=10.0)
    assert found.unknown_days == (make.local(2026, 7, 15),)
