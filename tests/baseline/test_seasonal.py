"""Seasonal against statsmodels' STL, and why the gaps are bridged before it."""

import numpy as np
import polars as pl
import pytest
from numpy.testing import assert_allclose
from statsmodels.api import datasets
from statsmodels.tsa.seasonal import STL

from pipeline.baseline.seasonal import decompose, usual_course
from pipeline.facts import READINGS
from pipeline.table import conform

PERIOD, BRIDGE = 24, 6


def _hourly(weeks=4, seed=3):
    hour = np.arange(weeks * 168)
    noise = np.random.default_rng(seed).normal(0, 0.05, len(hour))
    return 5.0 + 0.001 * hour + np.sin(2 * np.pi * hour / 24) + noise


def _stl(value, period):
    jump = max(period // 6, 1)
    odd = 7 * period + 1 - (7 * period) % 2
    model = STL(value, period=period, seasonal=13, trend=odd, robust=True,
                seasonal_jump=jump, trend_jump=jump, low_pass_jump=jump)  # fmt: skip
    fit = model.fit(inner_iter=2, outer_iter=3)
    return fit.trend, fit.seasonal


def test_one_missing_value_makes_statsmodels_answer_nothing():
    """A fact of the library (0.15) and the reason why we bridge: robust STL loses all, plain STL most."""
    value = _hourly()
    value[300] = np.nan
    robust, plain = (STL(value, period=PERIOD, robust=robust).fit() for robust in (True, False))
    assert np.isnan(robust.trend).all() and np.isnan(robust.seasonal).all()
    assert np.isnan(plain.trend).mean() > 0.5
    trend, seasonal = decompose(value, PERIOD, BRIDGE)
    assert np.isfinite(trend).sum() == np.isfinite(seasonal).sum() == len(value) - 1


def test_without_gaps_it_is_stl_itself():
    value = _hourly()
    for ours, theirs in zip(decompose(value, PERIOD, BRIDGE), _stl(value, PERIOD), strict=True):
        assert_allclose(ours, theirs, rtol=0, atol=0)


def test_short_gap_is_bridged_and_stays_missing():
    value = _hourly()
    whole = decompose(value, PERIOD, BRIDGE)
    holed = value.copy()
    holed[300 : 300 + BRIDGE] = np.nan
    for ours, reference in zip(decompose(holed, PERIOD, BRIDGE), whole, strict=True):
        assert np.isnan(ours[300:306]).all()
        assert np.isfinite(np.delete(ours, np.s_[300:306])).all()
        # Six of 672 hours bridged in a straight line: the smoothers average some 13 days of each hour.
        assert_allclose(np.delete(ours, np.s_[300:306]), np.delete(reference, np.s_[300:306]), atol=0.15)


def test_the_longest_bridge_is_still_a_bridge():
    """Thirty hours before it are no two periods: split off, they would have no course."""
    value = _hourly()
    value[30 : 30 + BRIDGE] = np.nan
    assert np.isfinite(decompose(value, PERIOD, BRIDGE)[0][:30]).all()


def test_long_gap_splits_the_record():
    value = _hourly()
    value[300 : 301 + BRIDGE] = np.nan
    trend, seasonal = decompose(value, PERIOD, BRIDGE)
    for begin, end in ((0, 300), (301 + BRIDGE, len(value))):
        piece_trend, piece_seasonal = _stl(value[begin:end], PERIOD)
        assert_allclose(trend[begin:end], piece_trend, rtol=0, atol=0)
        assert_allclose(seasonal[begin:end], piece_seasonal, rtol=0, atol=0)


def test_less_than_two_periods_has_no_course():
    short, enough = _hourly()[: 2 * PERIOD - 1], _hourly()[: 2 * PERIOD]
    assert np.isnan(decompose(short, PERIOD, BRIDGE)).all()
    assert np.isfinite(decompose(enough, PERIOD, BRIDGE)).all()
    assert np.isnan(decompose(np.full(100, np.nan), PERIOD, BRIDGE)).all()


def test_carbon_dioxide_at_mauna_loa():
    """Weekly CO2 in statsmodels' data sets: 59 gaps, a rise of 55 ppm in 43 years, some 6 ppm each year.

    Keeling's curve is known from anywhere: it peaks in May and is lowest in late September.
    """
    data = datasets.co2.load_pandas().data["co2"]
    trend, seasonal = decompose(data.to_numpy(), 52, 8)
    known = np.isfinite(trend)
    rise = trend[known][-1] - trend[known][0]
    assert rise == pytest.approx(55.0, abs=3.0)
    by_month = {m: np.nanmean(seasonal[(data.index.month == m)]) for m in range(1, 13)}
    assert max(by_month, key=by_month.__getitem__) == 5
    assert min(by_month, key=by_month.__getitem__) in (9, 10)
    assert by_month[5] - by_month[9] == pytest.approx(6.0, abs=1.0)
    assert np.nanstd(data.to_numpy() - trend - seasonal) < 0.6


def test_usual_course_of_a_daily_rhythm(make):
    times = make.grid(make.utc(2026, 3, 2), 28)
    hour = np.arange(len(times)) / 4
    value = (
        7.0 + 0.3 * np.sin(2 * np.pi * hour / 24) + make.noise(np.random.default_rng(1), len(hour), 0.5, 0.02)
    )
    frame = make.frame(times, value).with_columns(stuck=False, usable=True)
    course = usual_course(conform(frame, READINGS))
    assert course.height == 28 * 24
    at = 7.0 + 0.3 * np.sin(2 * np.pi * (np.arange(28 * 24) + 0.375) / 24)
    inner = slice(7 * 24, -7 * 24)
    assert_allclose(course["expected"].to_numpy()[inner], at[inner], atol=0.03)
    # Hourly medians of four readings with sd 0.02 and lag-1 correlation 0.5 scatter by some 0.015.
    assert 0.007 < course["scale"].to_numpy()[inner].mean() < 0.02


def test_usual_course_of_nothing(make):
    frame = make.frame(make.grid(make.utc(2026, 3, 2), 1), 7.0 + np.zeros(96), good=False)
    frame = conform(frame.with_columns(stuck=False, usable=False), READINGS)
    assert usual_course(frame).height == 0
    assert usual_course(pl.DataFrame(schema=READINGS)).height == 0
