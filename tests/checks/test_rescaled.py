"""Rescaled: factors between units, from tables; and what is the water after all."""

from datetime import timedelta

import numpy as np
import polars as pl
import pytest

from pipeline.baseline.jumps import Jump
from pipeline.checks.rescaled import _named

LITRES_A_GALLON = 3.785411784
"""Exact (NIST Special Publication 811, appendix B: gallon [U.S.])."""

GPM_A_MGD = 1e6 / 1440
"""Million gallons a day over the minutes of a day."""

FEET_A_PSI = 2.3066587
"""Feet of water of 1000 kg/m3 for one psi: 6894.757 Pa / (1000 * 9.80665 * 0.3048) (SP 811's factors)."""


def _jumped(make, sensor, change, day=120, until=None, tag=None):
    value = sensor.value.copy()
    part = slice(day * 96 + 30, len(value) if until is None else until * 96 + 30)
    value[part] = change(value[part])
    sensor.frame = make.frame(sensor.frame["time"], np.round(value, 3))
    sensor.tag = tag or make.tag(measures="dissolved_oxygen", unit="mg/L", high=None, resolution=0.001)
    return sensor


@pytest.mark.parametrize(
    ("factor", "words", "measures", "unit"),
    [
        (LITRES_A_GALLON, "litres for gallons", "flow", "gpm"),
        (1 / LITRES_A_GALLON, "litres for gallons the other way round", "volume", "gal"),
        (GPM_A_MGD, "gpm for MGD", "flow", "MGD"),
        (FEET_A_PSI, "feet of water for psi", "pressure", "psi"),
        (3600 / 1000, "m3/h for L/s", "flow", "L/s"),
        (1000 / 3600, "m3/h for L/s the other way round", "flow", "m3/h"),
        (1000 / 60, "L/min for m3/h", "flow", "m3/h"),
        (86400 / 1000, "m3/d for L/s", "flow", "L/s"),
        (24.0, "days for hours", "flow", "m3/h"),
        (10.0, "a decimal place", "ph", "pH"),
        (1000.0, "a thousand", "conductivity", "uS/cm"),
        (1 / 60.0, "minutes for hours", "flow", "gpm"),
    ],
)
def test_a_known_factor_is_named(find, ailing, as_known, make, factor, words, measures, unit):
    tag = make.tag(measures=measures, unit=unit, high=None, resolution=0.001)
    (finding,) = find("rescaled", as_known(_jumped(make, ailing(), lambda value: value * factor, tag=tag)))
    assert words in finding.evidence
    assert finding.severity == "act" and finding.is_open
    # It shows f times what it should: the error is the difference.
    assert finding.estimate == pytest.approx(7.4 * (factor - 1), rel=0.06)
    assert finding.ci_low < finding.estimate < finding.ci_high


def test_a_factor_between_units_of_something_else_is_not_named(find, ailing, as_known, make):
    """No turbidity is mistaken for gallons."""
    tag = make.tag(measures="turbidity", unit="NTU", high=None, resolution=0.001)
    (finding,) = find("rescaled", as_known(_jumped(make, ailing(), lambda value: 3.785 * value, tag=tag)))
    assert finding.severity == "note" and "gallons" not in finding.evidence


@pytest.mark.parametrize(("factor", "severity"), [(1.3, "note"), (1.7, "watch")])
def test_a_small_jump_is_for_the_record(find, ailing, as_known, make, factor, severity):
    """Whether the scatter grew by a third cannot be told in two days."""
    (finding,) = find("rescaled", as_known(_jumped(make, ailing(), lambda value: factor * value)))
    assert finding.severity == severity


def test_degrees_are_told_by_the_scatter(find, ailing, as_known, make):
    """F = 1.8 C + 32: the level moves by more than its differences do."""
    sensor = _jumped(make, ailing(), lambda value: 1.8 * value + 32)
    sensor.tag = make.tag(measures="temperature", unit="degC", high=100.0, resolution=0.001)
    (finding,) = find("rescaled", as_known(sensor))
    assert "degrees F" in finding.evidence


@pytest.mark.parametrize(("measures", "unit"), [("temperature", "degC"), ("ph", "pH"), ("orp", "mV")])
def test_what_has_no_zero_is_not_halved(find, ailing, as_known, make, measures, unit):
    """A source of half the degrees is other water, however lively it is (common practice, no source)."""
    tag = make.tag(measures=measures, unit=unit, high=None, resolution=0.001)
    assert find("rescaled", as_known(_jumped(make, ailing(), lambda value: value / 2.9, tag=tag))) == []
    (finding,) = find("rescaled", as_known(_jumped(make, ailing(), lambda value: value / 10, tag=tag)))
    assert "a decimal place" in finding.evidence and finding.severity == "act"


@pytest.mark.parametrize(
    ("before", "shown", "resolution", "words"),
    [
        (7.4, 0.7, 0.1, "a decimal place"),  # 0.74 on a display of tenths
        (7.4, 0.7, 0.01, ""),  # a display of hundredths shows 0.74
        (7.4, 0.6, 0.1, ""),
        (1.4, 0.2, 0.1, ""),  # half a step is a quarter of it: nothing can be told
    ],
)
def test_a_decimal_of_cold_water_is_told_through_its_rounding(make, before, shown, resolution, words):
    """Arithmetic: half a step of the display over what it shows."""
    tag = make.tag(measures="temperature", unit="degC", resolution=resolution)
    case = make.case(make.frame(make.grid(make.local(2026, 1, 5), 1), np.full(96, before)), tag=tag)
    factor = shown / before
    assert _named(case, Jump(0, 0, 2, factor, before, factor, False)) == words


def test_only_of_a_temperature_are_degrees_told(find, ailing, as_known, make):
    """7.4 to 45.3 is 1.8 times and 32 more: of oxygen that is no factor, and no other unit."""
    assert find("rescaled", as_known(_jumped(make, ailing(), lambda value: 1.8 * value + 32))) == []


@pytest.mark.parametrize(("resolution", "severity"), [(0.001, "watch"), (0.1, "note")])
def test_scatter_below_the_display_bears_nothing_out(find, ailing, as_known, make, resolution, severity):
    """0.03 mg/L over 2.9 is 0.01: a display of tenths shows neither (rounding, no source needed)."""
    sensor = _jumped(make, ailing(), lambda value: np.round(value / 2.9 / resolution) * resolution)
    sensor.tag = sensor.tag.model_copy(update={"resolution": resolution})
    (finding,) = find("rescaled", as_known(sensor))
    assert finding.severity == severity
    assert ("its scatter with it" in finding.evidence) == (severity == "watch")


@pytest.mark.parametrize("shift", [2.5, 5.0, -2.0])
def test_a_step_of_the_water_leaves_the_scatter_as_it_was(find, ailing, as_known, make, shift):
    assert find("rescaled", as_known(_jumped(make, ailing(), lambda value: value + shift))) == []


def test_a_day_of_it_is_not_enough_and_going_back_ends_it(find, ailing, as_known, make):
    def twice(value):
        return 2.0 * value

    assert find("rescaled", as_known(_jumped(make, ailing(), twice, until=121))) == []
    (finding,) = find("rescaled", as_known(_jumped(make, ailing(), twice, until=140)))
    assert (finding.end - finding.start).days == 20


@pytest.mark.parametrize("readings", [3, 12])
def test_a_slope_is_no_jump(find, ailing, as_known, make, readings):
    def rising(value):
        return value * 2.0 ** np.clip(np.arange(1, len(value) + 1) / readings, 0.0, 1.0)

    assert find("rescaled", as_known(_jumped(make, ailing(), rising))) == []


def test_a_flow_that_doubles_is_for_the_record_only(find, ailing, as_known, make):
    """Its scatter grows with it whatever the reason; only a factor between units says more."""
    tag = make.tag(measures="flow", unit="gpm", high=None, resolution=0.001)
    (finding,) = find("rescaled", as_known(_jumped(make, ailing(), lambda value: value * 1.7, tag=tag)))
    assert finding.severity == "note"


@pytest.mark.parametrize(
    ("hours", "as_found", "as_left", "left"),
    [
        (0.5, 1.22, 0.92, 0),  # a calibration took out an error of a third: the logbook has it
        (0.5, 0.92, 0.92, 1),  # somebody was there, and noted no change
        (0.5, 0.92, 1.22, 1),  # the other way round
        (30.0, 1.22, 0.92, 1),  # another day's
        (0.5, None, None, 1),  # no numbers
    ],
)
def test_what_a_calibration_changed_is_no_other_unit(
    find, ailing, as_known, make, hours, as_found, as_left, left
):
    sensor = _jumped(make, ailing(), lambda value: value / 1.33)
    at = sensor.frame["time"][120 * 96 + 30] + timedelta(hours=hours)
    noted = {"as_found": pl.lit(as_found, pl.Float64), "as_left": pl.lit(as_left, pl.Float64)}
    sensor.services = make.services([at]).with_columns(**noted)
    assert len(find("rescaled", as_known(sensor))) == left


def test_a_decimal_lost_at_a_calibration_is_told(find, ailing, as_known, make):
    sensor = _jumped(make, ailing(), lambda value: value / 10.0)
    at = sensor.frame["time"][120 * 96 + 30]
    sensor.services = make.services([at]).with_columns(as_found=pl.lit(7.4), as_left=pl.lit(0.74))
    (finding,) = find("rescaled", as_known(sensor))
    assert finding.severity == "act"
