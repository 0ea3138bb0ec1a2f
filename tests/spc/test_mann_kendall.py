"""Mann-Kendall's variance with ties, held against every permutation: an oracle for whoever adds a trend test.

The product rests no bar on it: on data that remember, its p-values are far too small. Bench scripts and
readers compare with it, and its tie correction is easily written with the wrong sign.
"""

from itertools import permutations

import numpy as np
import pytest


def _statistic(values):
    """Kendall's S: rises less falls over all pairs."""
    return sum(np.sign(b - a) for k, a in enumerate(values) for b in values[k + 1 :])


def _variance(values, sign=-1.0):
    """n(n-1)(2n+5)/18 less the same of every group of ties (Gilbert 1987, section 16.4; from memory)."""
    n = len(values)
    ties = np.unique(values, return_counts=True)[1]
    return (n * (n - 1) * (2 * n + 5) + sign * sum(t * (t - 1) * (2 * t + 5) for t in ties)) / 18.0


SERIES = [(1, 2, 3, 4, 5, 6, 7), (1, 1, 2, 3, 3, 3, 4), (2, 2, 2, 2, 2, 1, 1), (7.1, 7.1, 7.2, 7.2, 7.3, 7.3)]


@pytest.mark.parametrize("values", SERIES)
def test_variance_is_that_of_all_orders(values):
    """Without a trend every order is as likely: the exact variance of S is that over all of them."""
    exact = np.var([_statistic(order) for order in permutations(values)])
    assert _variance(values) == pytest.approx(exact, rel=1e-12)


@pytest.mark.parametrize("values", SERIES[1:])
def test_the_wrong_sign_is_rejected(values):
    exact = np.var([_statistic(order) for order in permutations(values)])
    assert _variance(values, sign=1.0) != pytest.approx(exact, rel=0.01)
