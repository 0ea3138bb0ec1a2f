"""EWMA against the NIST/SEMATECH handbook and against published run lengths."""

import numpy as np
import pytest
from numpy.polynomial.legendre import leggauss
from numpy.testing import assert_allclose
from scipy.stats import norm

from pipeline.spc.ewma import ewma, ewma_sigma

# NIST/SEMATECH e-Handbook of Statistical Methods 6.3.2.4, worked example: EWMA_0 = 50, s = 2.0539,
# lambda 0.3.
NIST_DATA = np.array(
    [52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5,
     49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]
)  # fmt: skip
NIST_EWMA = [
    50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33,
    50.11, 49.36, 49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99,
]  # fmt: skip


def test_handbook_averages():
    # Printed to two decimals; 1e-9 on top for the ties of rounding.
    assert_allclose(ewma(NIST_DATA, 0.3, 50.0), NIST_EWMA, rtol=0, atol=0.005 + 1e-9)


def test_handbook_limits_and_verdict():
    # Printed 52.5884 and 47.4115; the handbook rounds sqrt(0.3/1.7) to 0.4201, which moves the last digit.
    half = 3 * ewma_sigma(2.0539, 0.3)
    assert 50 + half == pytest.approx(52.5884, abs=2e-4)
    assert 50 - half == pytest.approx(47.4115, abs=2e-4)
    assert np.abs(ewma(NIST_DATA, 0.3, 50.0) - 50).max() < half, "the handbook finds the process in control"


def test_weight_one_is_the_data_itself():
    assert_allclose(ewma(NIST_DATA, 1.0, 50.0), NIST_DATA, rtol=1e-12)
    assert ewma_sigma(2.0, 1.0) == 2.0


def test_missing_value_leaves_the_average_where_it_was():
    holed = np.insert(NIST_DATA, 5, np.nan)
    found = ewma(holed, 0.3, 50.0)
    assert found[5] == found[4]
    assert_allclose(np.delete(found, 5), ewma(NIST_DATA, 0.3, 50.0), rtol=0, atol=0)


# Lucas and Saccucci (1990), Technometrics 32, Table 3: average run lengths with fixed limits.
TABLE_3 = [
    (0.5, 3.071, {0: 500, 0.5: 88.8, 1: 17.5, 2: 3.63}),
    (0.03, 2.437, {0: 500, 0.5: 29.3, 1: 12.6, 2: 5.99}),
]


@pytest.mark.parametrize(("weight", "width", "lengths"), TABLE_3)
def test_limits_have_the_published_run_lengths(weight, width, lengths):
    """Our limit in the integral equation of Crowder (1987): exact but for the table's rounding."""
    limit = width * ewma_sigma(1.0, weight)
    node, share = leggauss(160)
    z, share = node * limit, share * limit
    for shift, published in lengths.items():
        kernel = norm.pdf((z[None, :] - (1 - weight) * z[:, None]) / weight - shift) / weight * share
        from_node = np.linalg.solve(np.eye(len(z)) - kernel, np.ones(len(z)))
        from_zero = 1 + norm.pdf(z / weight - shift) / weight * share @ from_node
        # Three digits are printed, L itself to 0.0005: at most 0.2 % at ARL 500.
        assert from_zero == pytest.approx(published, rel=4e-3)


@pytest.mark.parametrize(("shift", "published"), [(0.5, 88.8), (1.0, 17.5), (2.0, 3.63)])
def test_simulated_run_lengths(shift, published):
    """The recursion itself: 2,000 runs, tolerance four standard errors of their own mean."""
    random = np.random.default_rng(19900)
    limit = 3.071 * ewma_sigma(1.0, 0.5)
    lengths = []
    for _ in range(2000):
        beyond = np.abs(ewma(random.normal(shift, 1.0, int(12 * published) + 10), 0.5)) > limit
        lengths.append(int(np.argmax(beyond)) + 1 if beyond.any() else len(beyond))
    error = np.std(lengths) / np.sqrt(len(lengths))
    assert np.mean(lengths) == pytest.approx(published, abs=4 * error)
