"""Damped: a signal that lags, and what only looks like one."""

import re

import numpy as np
import pytest


def test_the_ratio_it_names_is_that_of_a_first_order_lag(find, ailed):
    """White noise through y += a (x - y), a = 0.2, then the distance from the middle of its neighbours.

    Power of that distance over the white noise's: a^2 times the integral of |1 - cos w|^2 / |1 - 0.8
    e^-iw|^2 over the circle, against 1.5; worked out here by summing over frequencies. The water's own
    slow wander and the recording's steps of 0.01 keep some of it, so it is a lower bound.
    """
    w = np.linspace(-np.pi, np.pi, 200_001)
    power = np.mean((1 - np.cos(w)) ** 2 * 0.2**2 / np.abs(1 - 0.8 * np.exp(-1j * w)) ** 2)
    lowest = np.sqrt(power / 1.5)
    (finding,) = find("damped", ailed("damped"))
    times = float(re.search(r"move ([\d.]+) times", finding.evidence)[1])
    assert lowest <= times + 0.01 <= 2.5 * lowest


def test_it_is_a_visit_and_says_what_to_look_at(find, ailed):
    (finding,) = find("damped", ailed("damped"))
    assert finding.severity == "watch" and finding.is_open
    assert finding.check_first.startswith("sample flow")


def test_a_record_that_stands_still_is_frozen_and_not_damped(find, ailing, as_known):
    case = as_known(ailing("flat"))
    assert find("damped", case) == []
    assert len(find("frozen", case)) == 1


@pytest.mark.parametrize("kind", ["", "noisy", "spikes", "pegged", "clock_shift"])
def test_other_ailments_are_not_called_damped(find, ailing, as_known, kind):
    assert find("damped", as_known(ailing(kind))) == []


def test_nine_days_out_of_service_are_no_ailment(find, ailing, as_known, make):
    """A filter is drained for maintenance: out of state, and its analyser shows standing water."""
    sensor = ailing()
    value, in_state = sensor.value.copy(), np.ones(len(sensor.value), bool)
    part = slice(120 * 96, 129 * 96)
    value[part], in_state[part] = 7.0, False
    sensor.frame = make.frame(sensor.frame["time"], np.round(value, 2), in_state=in_state)
    for kind in ("damped", "noisy", "spikes", "pegged", "rescaled", "coarser"):
        assert find(kind, as_known(sensor)) == [], kind


def test_a_quiet_day_is_none_either(find, ailing, as_known):
    assert find("damped", as_known(ailing("damped", until=121))) == []


@pytest.mark.parametrize("seed", range(4))
def test_calm_water_in_the_middle_of_a_step_of_the_display_is_none(find, ailing, as_known, make, seed):
    """In steps of 0.1 a scatter of 0.04 shows near the edge of a step, and nowhere else.

    A quantiser passes on the scatter of what it is given while that is half a step or more (Widrow and
    Kollar, Quantization Noise, 2008; from memory). tags.csv promises 0.01 here.
    """
    sensor, random = ailing(), np.random.default_rng(seed)
    count = len(sensor.value)
    level = 7.4 + make.noise(random, count, 0.999, 0.2)
    level[140 * 96 : 145 * 96] = 7.4
    value = level + 0.04 * random.standard_normal(count)
    sensor.frame = make.frame(sensor.frame["time"], np.round(np.round(value / 0.1) * 0.1, 2))
    assert find("damped", as_known(sensor)) == []
