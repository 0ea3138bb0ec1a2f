"""Robust statistics against scipy and statsmodels."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.signal import medfilt
from scipy.stats import median_abs_deviation, norm
from statsmodels.api import RLM, add_constant, datasets
from statsmodels.robust.norms import HuberT
from statsmodels.tsa.stattools import acf

from pipeline.spc.robust import MAD_TO_SD, huber_fit, lag_one, robust_sd, without_spikes

RANDOM = np.random.default_rng(1964)


def test_factor_is_the_normal_quartile():
    assert pytest.approx(1 / norm.ppf(0.75), rel=1e-12) == MAD_TO_SD


@pytest.mark.parametrize("n", [1, 2, 5, 200, 201])
def test_robust_sd_is_scipys(n):
    values = RANDOM.standard_t(3, n)
    assert robust_sd(values) == pytest.approx(median_abs_deviation(values, scale="normal"), rel=1e-12)


def test_robust_sd_leaves_missing_values_out():
    values = np.array([1.0, np.nan, 2.0, 4.0, np.nan, 9.0])
    expected = median_abs_deviation(values, scale="normal", nan_policy="omit")
    assert robust_sd(values) == pytest.approx(expected, rel=1e-12)
    assert np.isnan(robust_sd(np.array([np.nan, np.nan])))


def test_grubbs_example_does_not_move_it():
    # NIST/SEMATECH e-Handbook 1.3.5.17.1, eight values with the outlier 245.57; median 201.37, MAD 0.995.
    values = np.array([199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57])
    assert robust_sd(values) == pytest.approx(1.4826 * 0.995, rel=1e-4)


def test_huber_fit_is_statsmodels_on_its_own_example():
    # Stack loss (Brownlee 1965), the textbook case of robust regression, in statsmodels' data sets.
    # statsmodels takes the spread about zero, ours about the median of only 21 residuals: agreement to a
    # tenth of each coefficient's own standard error.
    data = datasets.stackloss.load_pandas()
    design = add_constant(data.exog).to_numpy()
    theirs = RLM(data.endog.to_numpy(), design, M=HuberT(t=1.345)).fit(maxiter=200, tol=1e-10)
    ours = huber_fit(design, data.endog.to_numpy(), rounds=200)
    assert (np.abs(ours - theirs.params) < 0.1 * theirs.bse).all()


def test_huber_fit_is_statsmodels_on_symmetric_noise():
    x = np.linspace(-1, 1, 400)
    noise = np.tile(RANDOM.standard_t(2, 200), 2) * np.repeat([1.0, -1.0], 200)  # its median is 0 exactly
    y = 2.0 + 3.0 * x + noise
    theirs = RLM(y, add_constant(x), M=HuberT(t=1.345)).fit(maxiter=200, tol=1e-10)
    # Same estimator; what is left is the median of the residuals, a small part of the coefficient's error.
    assert (np.abs(huber_fit(add_constant(x), y, rounds=200) - theirs.params) < 0.02 * theirs.bse).all()


def test_huber_fit_ten_rounds_are_enough():
    x = np.linspace(-1, 1, 400)
    y = 2.0 + 3.0 * x + RANDOM.standard_t(2, 400)
    ten, many = (huber_fit(add_constant(x), y, rounds=rounds) for rounds in (10, 300))
    assert_allclose(ten, many, atol=2e-3)  # a twentieth of the coefficients' standard error of 0.05


def test_huber_fit_is_not_pulled_by_outliers():
    x = np.linspace(-1, 1, 400)
    y = 2.0 + 3.0 * x + RANDOM.normal(0, 0.1, 400)
    y[::40] = 1000.0
    # Bounded influence: ten of 400 values shift the level by at most 1.345 * 0.1 * 10 / 390 and its chance.
    assert_allclose(huber_fit(add_constant(x), y), [2.0, 3.0], atol=0.03)


def test_huber_fit_of_an_exact_line_is_the_line():
    x = np.arange(20.0)
    assert_allclose(huber_fit(add_constant(x), 1.0 + 0.5 * x), [1.0, 0.5], atol=1e-9)


def _ar1(phi, n):
    noise = RANDOM.normal(0, 1, n)
    series = np.empty(n)
    series[0] = noise[0] / np.sqrt(1 - phi**2)
    for i in range(1, n):
        series[i] = phi * series[i - 1] + noise[i]
    return series


@pytest.mark.parametrize("phi", [0.2, 0.5, 0.8])
def test_lag_one_is_statsmodels_acf_on_clean_series(phi):
    series = _ar1(phi, 4000)
    # Median for mean and a clip at 4 sd (1 in 16,000) change the third decimal.
    assert lag_one(series) == pytest.approx(acf(series, nlags=1)[1], abs=0.01)
    assert lag_one(series) == pytest.approx(phi, abs=4 * np.sqrt((1 - phi**2) / 4000))


def test_lag_one_holds_with_outliers_and_holes():
    series = _ar1(0.7, 4000)
    spoilt = series.copy()
    spoilt[::97] += 50.0
    spoilt[::13] = np.nan
    assert acf(np.nan_to_num(spoilt), nlags=1)[1] < 0.3, "the plain estimate is lost"
    # One value in 97 at the clip of 4 sd adds 16/97 of power and nothing else.
    assert lag_one(spoilt) == pytest.approx(0.7 / (1 + 16 / 97), abs=0.04)


def test_lag_one_is_zero_where_nothing_can_be_told():
    assert lag_one(np.full(50, 7.0)) == 0.0
    assert lag_one(np.arange(5.0)) == 0.0
    assert lag_one(np.full(50, np.nan)) == 0.0


def test_a_spike_is_replaced_and_a_step_stays():
    spike = np.array([0.0, 0.1, 9.0, 0.2, 0.1, 0.3])
    assert_allclose(without_spikes(spike, 1.0), [0.0, 0.1, 0.2, 0.2, 0.1, 0.3])
    step = np.array([0.0, 0.1, 0.0, 5.0, 5.1, 5.0])
    assert_allclose(without_spikes(step, 1.0), step)


def test_spikes_at_the_ends_are_held_against_the_two_next_to_them():
    assert_allclose(without_spikes(np.array([9.0, 0.1, 0.0]), 1.0), [0.1, 0.1, 0.0])
    assert_allclose(without_spikes(np.array([0.0, 0.1, 9.0]), 1.0), [0.0, 0.1, 0.1])
    assert_allclose(without_spikes(np.array([0.0, 9.0]), 1.0), [0.0, 9.0])


def test_spikes_are_those_of_a_median_filter():
    """Away from the ends it is scipy's median filter of three wherever that moves a value far."""
    values = RANDOM.standard_t(2, 300)
    smooth = medfilt(values, 3)
    expected = np.where(np.abs(values - smooth) > 1.5, smooth, values)
    assert_allclose(without_spikes(values, 1.5)[1:-1], expected[1:-1], rtol=0, atol=0)
