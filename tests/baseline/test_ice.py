"""Ice: water freezes at 0 degC (32 degF), by definition of both scales; what falls there at once did not."""

import numpy as np
import pytest

from pipeline.baseline.ice import at_ice


def _samples(make, values):
    return make.frame(make.grid(make.local(2026, 1, 5), len(values) / 96), values).select(
        "time", "value", "good"
    )


@pytest.mark.parametrize(("unit", "factor", "offset"), [("degC", 1.0, 0.0), ("degF", 1.8, 32.0)])
def test_water_that_cools_slowly_freezes(make, unit, factor, offset):
    celsius = np.concatenate([np.linspace(6.0, 0.0, 6 * 96), np.full(96, 0.2)])
    marked = at_ice(make.tag(measures="temperature", unit=unit), _samples(make, celsius * factor + offset))
    assert marked[-96:].all() and not marked[: 5 * 96].any()


def test_a_thermometer_that_fails_reads_zero_at_once(make):
    celsius = np.concatenate([np.full(96, 14.0), np.zeros(40)])
    assert not at_ice(make.tag(measures="temperature", unit="degC"), _samples(make, celsius)).any()


def test_nothing_else_freezes(make):
    assert at_ice(make.tag(measures="ph"), _samples(make, np.zeros(10))) is None
    assert at_ice(make.tag(measures="temperature", unit="degC"), _samples(make, np.full(10, 9.0))) is None


def test_a_thermometer_under_ice_is_neither_stuck_nor_at_an_end(make, find_in):
    """Twenty days at 0.0 degC, the low end of the span, after an autumn that moved."""
    random = np.random.default_rng(3)
    autumn = 6.0 + make.noise(random, 120 * 96, 0.9, 0.4) - np.linspace(0.0, 5.5, 120 * 96)
    values = np.round(np.maximum(np.concatenate([autumn, np.zeros(20 * 96)]), 0.0), 1)
    tag = make.tag(measures="temperature", unit="degC", low=0.0, high=40.0, resolution=0.1)
    case = make.case(make.frame(make.grid(make.local(2025, 9, 1), 140), values), tag=tag)
    assert [finding.kind for kind in ("frozen", "pegged", "damped") for finding in find_in(kind, case)] == []


@pytest.fixture(scope="module")
def find_in():
    from pipeline import checks
    from pipeline.parts import parts

    every = parts(checks)
    return lambda kind, case: list(every[kind].find(case, every[kind].Settings()))
