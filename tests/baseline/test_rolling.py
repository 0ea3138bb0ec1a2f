"""Rolling statistics against pandas and scipy."""

import numpy as np
import pandas as pd
import polars as pl
import pytest
from numpy.testing import assert_allclose
from scipy.stats import median_abs_deviation

from pipeline.baseline.rolling import rolling_mad_sd, rolling_median

VALUES = np.random.default_rng(4).standard_t(3, 400)


def _evaluate(expression, values):
    return pl.DataFrame({"v": values}).select(expression).to_series().to_numpy()


@pytest.mark.parametrize("hole", [False, True])
def test_median_is_pandas(hole):
    values = VALUES.copy()
    if hole:
        values[::5] = np.nan
        values[50:90] = np.nan
    expected = pd.Series(values).rolling(24, min_periods=8).median()
    assert_allclose(
        _evaluate(rolling_median(pl.col("v"), 24, 8), values), expected, rtol=1e-12
    )  # an even window halves a sum


def test_missing_is_never_ranked():
    """A NaN left in would count as the largest value of all and move the median up."""
    values = np.array([1.0, 2.0, np.nan, np.nan, np.nan])
    assert _evaluate(rolling_median(pl.col("v"), 5, 1), values)[-1] == 1.5


def test_spread_is_the_mad_where_the_level_holds():
    # The median of 168 values of sd s strays by 1.25 s/sqrt(168) = 0.1 s, which is what the short cut costs.
    values = np.random.default_rng(9).normal(5.0, 2.0, 3000)
    ours = _evaluate(rolling_mad_sd(pl.col("v"), 168, 24), values)[336:]
    textbook = np.array(
        [median_abs_deviation(values[i - 167 : i + 1], scale="normal") for i in range(336, 3000)]
    )
    assert np.median(np.abs(ours / textbook - 1)) < 0.03
    assert np.abs(ours / textbook - 1).max() < 0.15
