"""A plain plant: what an operator knows by heart must come out within, with wide margins."""

from datetime import date, timedelta

import numpy as np
import pytest

from pipeline.units import conversion

FIRST, LAST = date(2026, 11, 9), date(2026, 11, 15)
FEET_A_PSI = 2.31  # handbook, 1 psi = 2.31 ft of water
# Unit, usual value, how much it moves: common practice, no source. The limit.
WATER = {
    "treated pH": ("pH", 7.2, 0.05, {"low": 6.5, "high": 8.5}),  # 40 CFR 143.3
    "entry chlorine, least": ("mg/L", 0.8, 0.05, {"low": 0.2}),  # 40 CFR 141.72(b)(2)
    "entry chlorine, most": ("mg/L", 0.8, 0.05, {"high": 4.0}),  # 40 CFR 141.65(a)
    "combined turbidity": ("NTU", 0.05, 0.005, {"high": 1.0}),  # 40 CFR 141.551(b)
    "pressure in town": ("psi", 110.0, 2.0, {"low": 20.0}),
}


@pytest.mark.parametrize("name", WATER)
def test_a_week_of_it_is_within_with_wide_margins(make, judged, name):
    """Treated pH near 7.2; chlorine below 1 mg/L against 4 (common practice, no source)."""
    unit, usual, moves, limit = WATER[name]
    times = make.grid(make.local(2026, 11, 9), 7)
    value = usual + make.noise(np.random.default_rng(1), len(times), 0.9, moves)
    tag = make.tag(unit=unit, low=None, high=None, resolution=None)
    found = judged("instantaneous", make.frame(times, value), FIRST, LAST, tag=tag, **limit)
    assert (found.status, found.minutes_outside, found.excursions) == ("within", 0, ())
    number = next(iter(limit.values())) if len(limit) == 1 else 8.5 - 6.5
    nearest = min(abs(found.value - edge) for edge in limit.values())
    assert nearest > 0.2 * abs(number)


def test_a_hillside_tank_gives_about_110_psi():
    """254 ft of head (common practice, no source; 2.31 ft of water a psi by the handbook)."""
    head_ft = 254
    assert head_ft / FEET_A_PSI == pytest.approx(110, abs=0.1)


def test_river_in_autumn():
    """Near 55 degF is 12.8 degC (common practice, no source)."""
    factor, offset = conversion("degF", "degC")
    assert 55 * factor + offset == pytest.approx(12.8, abs=0.03)


def test_chlorine_below_one_over_a_year_is_far_from_four(make, judged):
    """Running annual average of a plant that doses for 0.8 mg/L (common practice, no source)."""
    start, end = make.local(2025, 10, 1), make.local(2026, 10, 1)
    times = make.grid(start, (end - start) / timedelta(days=1))
    value = 0.8 + make.noise(np.random.default_rng(1), len(times), 0.95, 0.05)
    last = date(2026, 9, 30)
    found = judged("running_annual_average", make.frame(times, value), last, last, high=4.0)
    assert found.status == "within"
    assert found.value == pytest.approx(0.8, abs=0.02)
