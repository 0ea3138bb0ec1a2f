"""CUSUM against the NIST/SEMATECH handbook and against published run lengths."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from pipeline.spc.cusum import cusum

# NIST/SEMATECH e-Handbook 6.3.2.3: target 325, k = 0.3175, h = 4.1959.
NIST_DATA = np.array(
    [324.925, 324.675, 324.725, 324.350, 325.350, 325.225, 324.125, 324.525, 325.225, 324.600,
     324.625, 325.150, 328.325, 327.250, 327.825, 328.500, 326.675, 327.775, 326.875, 328.350]
)  # fmt: skip


def test_handbook_sums():
    # Printed to two decimals with two ties (14.445, 19.035): half a digit and a hair.
    upper, lower = cusum(NIST_DATA, 325.0, 0.3175)
    assert_allclose(upper[12:], [3.01, 4.94, 7.45, 10.63, 11.99, 14.44, 16.00, 19.04], rtol=0, atol=0.0051)
    printed = [0, 0.01, 0, 0.33, 0, 0, 0.56, 0.72, 0.17, 0.25, 0.31, 0]
    assert_allclose(lower[:12], printed, rtol=0, atol=0.0051)


def test_handbook_signal_is_at_the_fourteenth_mean():
    upper, lower = cusum(NIST_DATA, 325.0, 0.3175)
    assert int(np.argmax(upper > 4.1959)) + 1 == 14
    assert not (lower > 4.1959).any()


def test_missing_value_leaves_the_sums_where_they_were():
    holed = np.insert(NIST_DATA, 15, np.nan)
    for with_hole, without in zip(cusum(holed, 325.0, 0.3175), cusum(NIST_DATA, 325.0, 0.3175), strict=True):
        assert with_hole[15] == with_hole[14]
        assert_allclose(np.delete(with_hole, 15), without, rtol=0, atol=0)


def _two_sided(values, height, head_start):
    upper, lower = cusum(values, 0.0, 0.5, head_start)
    return (upper > height) | (lower > height)


def _one_sided(values, height, head_start):
    return cusum(values, 0.0, 0.5, head_start)[0] > height


# Lucas and Crosier (1982), Technometrics 24, Table 1 (two-sided, k = 0.5, h = 4, and with head start h/2);
# Brook and Evans (1972), Biometrika 59 (one-sided, k = 0.5, h = 3).
PUBLISHED = [
    (_two_sided, 4.0, 0.0, 0.0, 168.0),
    (_two_sided, 4.0, 0.0, 1.0, 8.38),
    (_two_sided, 4.0, 0.0, 2.0, 3.34),
    (_two_sided, 4.0, 2.0, 0.0, 149.0),
    (_two_sided, 4.0, 2.0, 1.0, 5.29),
    (_one_sided, 3.0, 0.0, 0.0, 117.59),
    (_one_sided, 3.0, 0.0, 1.5, 3.75),
]


@pytest.mark.parametrize(("signals", "height", "head_start", "shift", "published"), PUBLISHED)
def test_simulated_run_lengths(signals, height, head_start, shift, published):
    """1,000 runs, tolerance four standard errors of their own mean."""
    random = np.random.default_rng(1982)
    lengths = []
    for _ in range(1000):
        signal = signals(random.normal(shift, 1.0, int(10 * published) + 20), height, head_start)
        lengths.append(int(np.argmax(signal)) + 1 if signal.any() else len(signal))
    error = np.std(lengths) / np.sqrt(len(lengths))
    assert np.mean(lengths) == pytest.approx(published, abs=4 * error)
