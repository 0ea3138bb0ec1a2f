"""Mixture: probabilities and quantiles against published tables and other libraries."""

from statistics import NormalDist

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.stats import norm

from pipeline.spc.mixture import Mixture, normal_below

MADE = Mixture(np.array([0.2, 0.5, 0.3]), np.array([-1.0, 0.5, 3.0]), np.array([0.3, 1.0, 0.1]))


def test_distribution_function_is_the_tables_and_the_standard_librarys():
    """Area from 0 to z: NIST/SEMATECH e-Handbook 1.3.6.7.1 (z = 0.50, 1.00, 1.96, 3.00)."""
    areas = normal_below(np.array([0.5, 1.0, 1.96, 3.0])) - 0.5
    assert np.round(areas, 5).tolist() == [0.19146, 0.34134, 0.47500, 0.49865]
    z = np.linspace(-8, 8, 401)
    assert np.allclose(normal_below(z), [NormalDist().cdf(one) for one in z], rtol=1e-9, atol=1e-15)


def test_a_quantile_far_out_or_of_a_part_without_spread_is_found():
    """The search must not run out of its bracket where the density is next to nothing."""
    apart = Mixture(np.array([0.5, 0.5]), np.array([-50.0, 50.0]), np.array([0.0, 0.1]))
    assert apart.quantile(0.25) == pytest.approx(-50.0, abs=1e-9)
    assert apart.quantile(0.75) == pytest.approx(50.0, abs=1e-9)
    assert -50.0 < apart.quantile(0.5) < 50.0
    # So far out only the widest part has anything.
    assert MADE.quantile(1e-9) == pytest.approx(NormalDist(0.5, 1.0).inv_cdf(1e-9 / 0.5), rel=1e-9)


def test_tails_are_exact_where_a_normal_approximation_is_not():
    exact = sum(w * norm.sf(2.0, c, s) for w, c, s in zip(MADE.weight, MADE.centre, MADE.spread, strict=True))
    below = sum(
        w * norm.cdf(-2.0, c, s) for w, c, s in zip(MADE.weight, MADE.centre, MADE.spread, strict=True)
    )
    assert MADE.beyond(2.0) == pytest.approx(max(exact, below), abs=2e-7)
    assert abs(norm.sf(2.0, MADE.mean, MADE.sd) - exact) > 0.05


def test_moments_are_those_of_a_sample():
    random = np.random.default_rng(4)
    part = random.choice(3, 200_000, p=MADE.weight)
    drawn = random.normal(MADE.centre[part], MADE.spread[part])
    # Standard errors of mean and sd of 200 000 values of sd 1.6: .004 and .003; four of each.
    assert MADE.mean == pytest.approx(drawn.mean(), abs=0.016)
    assert MADE.sd == pytest.approx(drawn.std(), abs=0.012)


@pytest.mark.parametrize("share", [0.025, 0.3, 0.5, 0.975])
def test_quantiles_undo_the_distribution_function(share):
    def cdf(x):
        return sum(
            w * norm.cdf(x, c, s) for w, c, s in zip(MADE.weight, MADE.centre, MADE.spread, strict=True)
        )

    assert MADE.quantile(share) == pytest.approx(brentq(lambda x: cdf(x) - share, -10, 10), abs=1e-5)


def test_widening_leaves_the_means():
    wide = MADE.widened(2.0)
    assert wide.mean == MADE.mean
    assert wide.spread.tolist() == [0.6, 2.0, 0.2]
