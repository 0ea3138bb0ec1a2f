"""Season: known waves come back, outliers do not move them, a short past has a level only."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from pipeline.baseline.season import YEAR_DAYS, expectation
from pipeline.spc.robust import robust_sd

COEFFICIENTS = [7.5, 0.3, -0.2, 0.1, 0.05]


def _truth(day):
    angle = 2 * np.pi * day / YEAR_DAYS
    waves = [np.ones_like(day), np.cos(angle), np.sin(angle), np.cos(2 * angle), np.sin(2 * angle)]
    return np.array(COEFFICIENTS) @ waves


def test_known_waves_are_recovered_exactly():
    day = np.arange(20_000.0, 20_400.0)
    found = expectation(day, _truth(day))
    assert found.knows_season
    # Nothing but rounding: the data are the model.
    assert_allclose(found.coefficients, COEFFICIENTS, atol=1e-9)
    assert_allclose(found.at(np.array([20_500.0])), _truth(np.array([20_500.0])), atol=1e-9)


def test_noisy_waves_with_holes(make):
    random = np.random.default_rng(6)
    day = np.arange(20_000.0, 20_730.0)
    value = _truth(day) + make.noise(random, len(day), 0.5, 0.05)
    value[random.random(len(day)) < 0.2] = np.nan
    found = expectation(day, value)
    # sd .05, memory .5 (three days are one), some 580 days: .05 * sqrt(2 * 3 / 580) = .005; four of them.
    assert_allclose(found.coefficients, COEFFICIENTS, atol=0.02)
    assert found.sd == pytest.approx(0.05, rel=0.15)
    assert found.phi == pytest.approx(0.5, abs=0.12)
    assert found.history_days == 730


def test_huge_outliers_do_not_move_it(make):
    random = np.random.default_rng(6)
    day = np.arange(20_000.0, 20_400.0)
    value = _truth(day) + make.noise(random, len(day), 0.3, 0.05)
    spoilt = value.copy()
    spoilt[::40] += 1e4
    clean, robust = expectation(day, value), expectation(day, spoilt)
    # Each of ten outliers pulls like a value 1.345 sd out: .05 * 1.345 * 10 / 390 and as much for the waves.
    assert_allclose(robust.coefficients, clean.coefficients, atol=0.006)
    assert robust.sd == pytest.approx(clean.sd, rel=0.1)


@pytest.mark.parametrize(("days", "knows"), [(329, False), (330, True)])
def test_a_past_of_eleven_months_knows_its_season(days, knows):
    day = np.arange(20_000.0, 20_000.0 + days)
    assert expectation(day, _truth(day)).knows_season is knows


def test_a_short_past_is_the_median_of_its_last_sixty_days():
    day = np.arange(20_000.0, 20_200.0)
    value = 7.0 + 0.01 * np.arange(200) + np.random.default_rng(2).normal(0.0, 0.1, 200)
    found = expectation(day, value)
    assert_allclose(found.at(np.array([20_300.0])), [np.median(value[-60:])], rtol=0, atol=0)
    assert found.sd == pytest.approx(robust_sd(value - np.median(value[-60:])))


def test_too_few_days_expect_nothing():
    day = np.arange(20_000.0, 20_100.0)
    value = np.full(100, np.nan)
    value[:44] = 7.0
    assert expectation(day, value) is None
    value[44] = 7.1
    assert expectation(day, value) is not None
