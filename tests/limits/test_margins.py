"""Margins: eight weeks of them, and a line with its interval."""

from datetime import date, timedelta

import numpy as np
import pytest

from pipeline.clock import week_named
from pipeline.limits import daily_mean, month_mean
from pipeline.record import record
from pipeline.tally.margins import trend, with_margins

WEEK = "2026-W46"  # 9 to 15 November: the clocks went back on the 1st
LAST = date(2026, 11, 15)


def _weeks(make, levels):
    """One daily-mean level a week, the last in W46."""
    first = LAST - timedelta(days=7 * len(levels) - 1)
    start, end = (make.local(d.year, d.month, d.day) for d in (first, LAST + timedelta(days=1)))
    times = make.grid(start, (end - start) / timedelta(days=1))
    day = np.array([(t.astimezone(make.zone).date() - first).days for t in times.to_list()])
    value = np.array(levels)[day // 7] + 1e-4 * np.sin(np.arange(len(times)))
    return make.frame(times, value)


def _judge(make, frame, statistic=daily_mean, **limit):
    row = make.limit(**limit)
    held, week = record(make.case(frame), row), week_named(WEEK, make.zone)
    return with_margins(statistic.assess(held, row, week), held, row, week, statistic.assess)


def test_the_margin_of_each_week(make):
    levels = [0.10, 0.12, 0.11, 0.15, 0.16, 0.18, 0.19, 0.22, 0.25]
    found = _judge(make, _weeks(make, levels), high=0.3)
    assert found.margins == pytest.approx([0.3 - level for level in levels], abs=1e-3)
    assert found.trend.high < 0


def test_weeks_without_a_record_are_not_known(make):
    found = _judge(make, _weeks(make, [0.1, 0.2, 0.1]), high=0.3)
    assert found.margins[:6] == (None,) * 6
    assert found.margins[6:] == pytest.approx([0.2, 0.1, 0.2], abs=1e-3)
    assert found.trend is None


def test_a_month_so_far_has_none(make):
    found = _judge(make, _weeks(make, [0.1] * 9), month_mean, high=0.3)
    assert (found.margins, found.trend) == ((), None)


def test_the_line_is_that_of_statsmodels():
    import statsmodels.api as sm

    random = np.random.default_rng(2)
    margins = tuple(1.0 - 0.05 * k + random.normal(0, 0.03) for k in range(9))
    fitted = sm.OLS(np.array(margins), sm.add_constant(np.arange(9.0))).fit()
    found = trend(margins)
    assert found.slope == pytest.approx(fitted.params[1], rel=1e-9)
    assert (found.low, found.high) == pytest.approx(fitted.conf_int()[1], rel=1e-9)


def test_five_weeks_make_no_line():
    assert trend((1.0, 0.9, 0.8, 0.7, 0.65, None, None, None, None)) is None
