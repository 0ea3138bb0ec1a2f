"""Shares: Wilson's interval against two reference implementations."""

import pytest
from scipy.stats import binomtest
from statsmodels.stats.proportion import proportion_confint

from benchmarks.scoring_rates import Share, half_width, quantile, share


@pytest.mark.parametrize(("hits", "n"), [(0, 5), (1, 1), (11, 11), (7, 40), (94, 100), (499, 1000)])
def test_wilson_as_scipy_and_statsmodels_have_it(hits, n):
    low, high = Share(hits, n).interval
    by_scipy = binomtest(hits, n).proportion_ci(method="wilson")
    assert (low, high) == pytest.approx((by_scipy.low, by_scipy.high), abs=1e-12)
    assert (low, high) == pytest.approx(proportion_confint(hits, n, method="wilson"), abs=1e-12)


def test_nothing_counted_is_no_figure():
    assert share([]).value is None
    assert Share(0, 0).interval == (0.0, 1.0)
    assert quantile([], 0.5) is None
    assert half_width([float("nan")]) is None


def test_half_the_quartile_distance_of_a_uniform_spread():
    assert half_width([k / 1000 for k in range(1001)]) == pytest.approx(0.25)
