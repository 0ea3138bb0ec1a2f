"""The bar of the snaps: one that was tried, and within the budget on healthy sensors."""

import pytest

from benchmarks.thresholds_strayed import A_YEAR, STANDING, TIMES, YEARS, healthy, often
from pipeline.evidence.thresholds import threshold


def test_the_bar_is_one_that_was_tried():
    assert threshold("strayed") in TIMES and list(TIMES) == sorted(TIMES)
    assert threshold("strayed") == STANDING["strayed"][0]


def test_rates_are_a_sensor_and_year():
    assert often([{1.0: 1}, {1.0: 0}], 1.0) == pytest.approx(1 / (2 * YEARS))


@pytest.mark.parametrize("is_coarse", [False, True])
def test_healthy_sensors_of_family_a_keep_the_budget(is_coarse):
    """One train whose seed the derivation does not draw: four analysers, seven years together."""
    every = healthy(30_000, is_coarse=is_coarse)
    assert len(every) == 4 and often(every, threshold("strayed")) <= A_YEAR
