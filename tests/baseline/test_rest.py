"""Rest: a meter through which nothing flows shows zero, and that is no reading of the water it measures."""

import numpy as np
import pytest

from pipeline import checks
from pipeline.parts import parts


@pytest.fixture(scope="module")
def well(make):
    """A well of 300 gpm that ran for 14 hours a day until it was needed for 9 only."""
    random = np.random.default_rng(4)
    days = 420
    hour = np.arange(days * 96) % 96 / 4.0
    hours = np.where(np.arange(days * 96) < 370 * 96, 14.0, 9.0) + random.normal(0, 0.5, days).repeat(96)
    flow = 300.0 * (1 + make.noise(random, days * 96, 0.9, 0.02))
    shown = np.round(np.where(hour < hours, flow, 0.0))
    tag = make.tag(measures="flow", unit="gpm", low=0.0, high=600.0, resolution=1.0)
    device = make.instrument(tolerance=None, tolerance_pct=5.0)
    return make.case(make.frame(make.grid(make.local(2025, 6, 1), days), shown), tag=tag, instrument=device)


def test_a_day_s_value_is_of_the_hours_in_which_it_ran(well):
    level = well.daily["level"].to_numpy()
    assert np.abs(level / 300.0 - 1.0).max() < 0.1


@pytest.mark.parametrize("kind", ["drift", "step", "damped", "noisy", "frozen"])
def test_a_well_that_is_needed_less_is_no_fault_of_its_meter(well, kind):
    check = parts(checks)[kind]
    assert list(check.find(well, check.Settings())) == []
