"""Onset against the marginal likelihood written out, against GLS, and for the coverage of its interval."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.stats import multivariate_normal
from statsmodels.api import GLS

from pipeline.spc.onset import weighed
from pipeline.spc.prior import Prior

LEVEL_SD, SIZE_SD = 0.7, 8.0
PLAIN = Prior(level_sd=LEVEL_SD, size_sd=SIZE_SD)


def course(*series, **known):
    return weighed(*series, **known).course()


def _correlation(day, phi):
    return np.where(np.eye(len(day)) == 1, 1.0, phi ** np.abs(day[:, None] - day[None, :]) if phi else 0.0)


def _candidates(day):
    onsets = np.unique(np.append(day[0], 0.5 * (day[1:] + day[:-1])))
    ramps = [np.clip((day - t) / (day[-1] - t), 0, 1) for t in onsets]
    return onsets, ramps + [(day >= t).astype(float) for t in onsets]


def _by_brute_force(day, error, sigma, phi):
    """Every candidate as one multivariate normal (Bayes' rule written out; no algebra shared with ours)."""
    onsets, shapes = _candidates(day)
    noise = sigma**2 * _correlation(day, phi)
    prior = np.diag([LEVEL_SD, SIZE_SD]) ** 2 * sigma**2
    density, mean, cov = [], [], []
    for shape in shapes:
        design = np.stack([np.ones_like(day), shape], axis=1)
        total = noise + design @ prior @ design.T
        gain = prior @ design.T @ np.linalg.inv(total)
        density.append(multivariate_normal.pdf(error, np.zeros(len(day)), total))
        mean.append(gain @ error)
        cov.append(prior - gain @ design @ prior)
    weight = np.array(density) / np.sum(density)
    return onsets, weight, np.array(mean), np.array(cov)


@pytest.mark.parametrize("phi", [0.0, 0.6])
@pytest.mark.parametrize("day", [[0.0, 1, 2, 3, 4, 5], [0.0, 7, 14, 15, 30]])
def test_weights_and_moments_are_those_of_bayes_rule(day, phi):
    day = np.array(day)
    error = np.random.default_rng(3).normal(0, 0.05, len(day)) + np.where(day > 2, 0.2, 0.0)
    onsets, weight, mean, cov = _by_brute_force(day, error, 0.05, phi)
    found = course(day, error, 0.05, phi, PLAIN, horizon_days=10.0)
    n = len(onsets)
    total = mean.sum(axis=1)
    average = weight @ total
    spread = weight @ (cov.sum(axis=(1, 2)) + total**2) - average**2
    rate = weight[:n] / weight[:n].sum() @ (mean[:n, 1] / (day[-1] - onsets))
    grown = np.append(1 + 10 / (day[-1] - onsets), np.ones(n))
    # Two computations of the same numbers: rounding only.
    assert found.ramp_share == pytest.approx(weight[:n].sum(), rel=1e-9)
    assert (found.error, found.error_sd) == pytest.approx((average, spread**0.5), rel=1e-9)
    assert found.rate == pytest.approx(rate, rel=1e-9)
    assert found.ahead.mean == pytest.approx(weight @ (mean[:, 0] + grown * mean[:, 1]), rel=1e-9)


def test_what_was_known_before_is_weighed_by_bayes_rule():
    """Levels that a service may have left, a rate that may go on, bends: each as a multivariate normal."""
    day = np.array([10.0, 17, 24, 31])
    error = np.array([0.12, 0.18, 0.19, 0.26])
    prior = Prior(
        begin=5.0, levels=((0.6, 0.0, np.nan), (0.4, 0.1, 0.02)), rates=((0.3, 0.006, 0.002),),
        ramps=0.3, bends=0.1, steps=0.2,
    )  # fmt: skip
    onsets = np.array([5.0, 13.5, 20.5, 27.5])
    kinds = (("ramps", 1.0), ("bends", 2.0), ("steps", 0.0))
    shapes = [
        (getattr(prior, name) / 4, np.where(day >= t, np.clip((day - t) / (31 - t), 0, 1) ** power, 0.0),
         0.0, 8.0 * 0.05, (1 + 10 / (31 - t)) ** power)
        for name, power in kinds for t in onsets
    ]  # fmt: skip
    shapes.append((0.3, (day - 5.0) / 26.0, 0.006 * 26, 0.002 * 26, 36.0 / 26.0))
    density, now, ahead = [], [], []
    for share, level, level_sd in ((0.6, 0.0, 0.7 * 0.05), (0.4, 0.1, 0.02)):
        for weight, shape, size, size_sd, grown in shapes:
            design = np.stack([np.ones(4), shape], axis=1)
            mean, cov = np.array([level, size]), np.diag([level_sd, size_sd]) ** 2
            total = 0.05**2 * np.eye(4) + design @ cov @ design.T
            density.append(share * weight * multivariate_normal.pdf(error, design @ mean, total))
            both = mean + cov @ design.T @ np.linalg.solve(total, error - design @ mean)
            now.append(both.sum())
            ahead.append(both @ [1.0, grown])
    weight = np.array(density) / np.sum(density)
    found = course(day, error, 0.05, 0.0, prior, horizon_days=10.0)
    assert found.error == pytest.approx(weight @ now, rel=1e-8)
    assert found.ahead.mean == pytest.approx(weight @ ahead, rel=1e-8)
    assert found.now.weight.sum() == pytest.approx(1.0)


def test_a_value_that_is_trusted_less_is_a_noisier_one():
    """Weight w is a variance of sigma squared over w: the marginal likelihood written out once more."""
    day, trust = np.array([0.0, 7, 14, 21]), np.array([1.0, 1.2, 0.1, 1.0])
    error = np.array([0.02, 0.05, 0.6, 0.12])
    _, shapes = _candidates(day)
    density, total = [], []
    for shape in shapes:
        design = np.stack([np.ones(4), shape], axis=1)
        prior = np.diag([LEVEL_SD, SIZE_SD]) ** 2 * 0.05**2
        spread = np.diag(0.05**2 / trust) + design @ prior @ design.T
        density.append(multivariate_normal.pdf(error, np.zeros(4), spread))
        total.append((prior @ design.T @ np.linalg.solve(spread, error)).sum())
    found = course(day, error, 0.05, 0.0, PLAIN, trust=trust)
    assert found.error == pytest.approx(np.array(density) @ total / np.sum(density), rel=1e-8)
    assert abs(found.error) < abs(course(day, error, 0.05, 0.0, PLAIN).error)


def test_long_ramp_is_generalised_least_squares():
    """With plenty of evidence the priors and the onset's doubt vanish: statsmodels' GLS at the true onset."""
    day = np.arange(84.0)
    random = np.random.default_rng(12)
    noise = np.linalg.cholesky(_correlation(day, 0.5)) @ random.normal(0, 0.02, 84)
    truth = np.clip(day - 20.0, 0, None) * 0.02
    found = course(day, truth + noise, 0.02, 0.5)
    design = np.stack([np.ones(84), np.clip(day - 20.0, 0, None)], axis=1)
    fit = GLS(truth + noise, design, sigma=_correlation(day, 0.5)).fit()
    end = fit.params @ [1.0, 63.0]
    error = float(np.sqrt(np.array([1.0, 63.0]) @ fit.cov_params() @ [1.0, 63.0]))
    assert found.error == pytest.approx(end, abs=2 * error)  # the onset's own doubt is of that order
    assert found.rate == pytest.approx(fit.params[1], rel=0.05)
    assert found.onset == pytest.approx(20.0, abs=2.0)
    assert found.ramp_share > 0.99


def test_step_is_called_a_step():
    day = np.arange(60.0)
    error = np.where(day >= 30, 0.3, 0.0) + np.random.default_rng(5).normal(0, 0.05, 60)
    found = course(day, error, 0.05)
    assert found.ramp_share < 0.01
    assert found.onset == pytest.approx(29.5, abs=1.0)
    assert found.ahead.mean == pytest.approx(0.3, abs=4 * 0.05 / np.sqrt(30))


def test_two_grabs_on_one_day_are_two_grabs():
    """Independent values on the same day carry no memory of each other (0 to the power 0 is not 1 here)."""
    day = np.array([0.0, 7, 14, 14, 21, 28])
    error = np.array([0.0, 0.05, 0.1, 0.16, 0.2, 0.25])
    _, weight, mean, _ = _by_brute_force(day, error, 0.05, 0.0)
    assert course(day, error, 0.05).error == pytest.approx(weight @ mean.sum(axis=1), rel=1e-9)


def test_one_value_alone_is_shrunk_not_refused():
    found = course(np.array([3.0]), np.array([0.1]), 0.05)
    assert 0.0 < found.error <= 0.1
    assert found.onset == 3.0


def test_mirror():
    day = np.arange(20.0)
    error = 0.01 * day + np.random.default_rng(1).normal(0, 0.05, 20)
    up, down = course(day, error, 0.05, 0.3), course(day, -error, 0.05, 0.3)
    assert down.error == pytest.approx(-up.error)
    assert (down.error_sd, down.onset, down.ramp_share) == pytest.approx(
        (up.error_sd, up.onset, up.ramp_share)
    )


def test_unit_does_not_matter():
    day = np.arange(20.0)
    error = 0.01 * day + np.random.default_rng(1).normal(0, 0.05, 20)
    one, thousand = course(day, error, 0.05), course(day, 1000 * error, 50.0)
    assert_allclose(thousand.error, 1000 * one.error, rtol=1e-9)
    assert_allclose(thousand.rate_sd, 1000 * one.rate_sd, rtol=1e-9)


@pytest.mark.parametrize("phi", [0.0, 0.6])
def test_interval_is_honest_on_its_own_terms(phi):
    """Simulation-based calibration (Talts et al. 2018, arXiv 1804.06788): truths drawn from the prior.

    The squared error must then average the stated variance, and the 95 % interval must hold 95 %.
    """
    random = np.random.default_rng(2018)
    day = np.arange(56.0) if phi else np.arange(0.0, 112.0, 7.0)
    root = np.linalg.cholesky(_correlation(day, phi))
    onsets, shapes = _candidates(day)
    z, onset_held = [], []
    for _ in range(1500):
        k = int(random.integers(len(shapes)))
        level, size = random.normal(0, LEVEL_SD), random.normal(0, SIZE_SD)
        error = level + size * shapes[k] + root @ random.normal(0, 1, len(day))
        found = course(day, error, 1.0, phi)
        z.append((level + size * shapes[k][-1] - found.error) / found.error_sd)
        onset_held.append(found.onset_low <= onsets[k % len(onsets)] <= found.onset_high)
    # n = 1500: standard errors .037 of the mean square, .006 and .008 of the shares; four of each, and
    # as much again below for the onset, whose range can only end on a candidate and so holds 90 % or more.
    assert np.mean(np.square(z)) == pytest.approx(1.0, abs=0.15)
    assert np.mean(np.abs(z) < 1.96) == pytest.approx(0.95, abs=0.023)
    assert 0.90 - 0.032 < np.mean(onset_held) < 0.98


def test_interval_of_a_typical_drift_on_autocorrelated_noise():
    """A ramp of 0.05 pH a week on AR(1) days (phi .6), 56 days on: at least 90 % of the intervals hold."""
    random = np.random.default_rng(56)
    day = np.arange(84.0)
    root = np.linalg.cholesky(_correlation(day, 0.6))
    truth = 0.05 / 7 * np.clip(day - 28.0, 0, None)
    found = [course(day, truth + root @ random.normal(0, 0.05, 84), 0.05, 0.6) for _ in range(400)]
    held = np.mean([abs(f.error - truth[-1]) < 1.96 * f.error_sd for f in found])
    # The prior favours no size, so a fixed one is held about as often: .95, four standard errors (.011).
    assert 0.90 < held < 0.995
    assert np.median([f.rate for f in found]) * 7 == pytest.approx(0.05, rel=0.10)
    assert np.median([f.onset for f in found]) == pytest.approx(28.0, abs=4.0)
