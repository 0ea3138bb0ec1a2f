"""Signal: one figure a day, checked against plain loops and the statistics of white noise."""

import numpy as np
import pytest

from pipeline.baseline.signal import grains_of, signal_of, slots
from pipeline.evidence.liveliness import scatter_of


@pytest.fixture(scope="module")
def white(make):
    """Thirty days of independent readings of scatter 0.2 about pH 7, and some that do not count."""
    random = np.random.default_rng(5)
    times = make.grid(make.local(2026, 1, 5), 30)
    value = np.round(7.0 + 0.2 * random.standard_normal(len(times)), 2)
    good, in_state = random.random(len(times)) > 0.05, np.ones(len(times), bool)
    in_state[96 * 10 : 96 * 11] = False
    case = make.case(make.frame(times, value, good=good, in_state=in_state))
    return case, signal_of(case)


def test_the_scatter_of_white_noise_is_found(white):
    """To a tenth: a day's figure rests on some fifty independent distances."""
    _, signal = white
    scatter = scatter_of(float(np.nanmedian(signal.roughness)))
    assert 0.9 * 0.2 <= scatter <= 1.1 * 0.2


def test_a_straight_slope_is_no_scatter(make):
    times = make.grid(make.local(2026, 1, 5), 10)
    value = 5.0 + np.arange(len(times)) * 0.004
    signal = signal_of(make.case(make.frame(times, value)))
    # What is left is the floor: a quarter of the resolution of 0.01.
    assert np.exp(signal.roughness[1:-1]) == pytest.approx(0.0025)


def test_days_that_do_not_count_have_no_figure(white):
    case, signal = white
    assert np.isnan(signal.roughness[10]) and signal.readings[10] == 0
    assert np.isfinite(np.delete(signal.roughness, 10)).all()
    assert signal.days == 30 and len(signal.x) == case.readings["usable"].sum()


def test_the_grain_is_the_smallest_difference_of_any_two(white):
    case, signal = white
    for row, grain in enumerate(grains_of(case)):
        values = np.unique(signal.value[signal.row == row])
        if len(values) > 1:
            assert grain == pytest.approx(np.diff(values).min(), abs=1e-6)
        else:
            assert np.isnan(grain)


def test_days_without_readings_at_either_end_hide_no_step(make):
    """By construction: of the one day that counts only the two highest values lie 0.01 apart."""
    day = 5.0 + 0.05 * np.arange(96)
    day[-1] = day[-2] + 0.01
    times = make.grid(make.local(2026, 1, 5), 3)
    case = make.case(make.frame(times, np.tile(day, 3), good=np.repeat([False, True, False], 96)))
    grain = grains_of(case)
    assert grain[1] == pytest.approx(0.01, abs=1e-6) and np.isnan(grain[[0, 2]]).all()


def test_slots_are_the_means_of_the_wall_clock(white, make):
    _, signal = white
    found = slots(signal, 24)
    day, hour = 4, 13
    here = (signal.row == day) & ((signal.local_us // 3_600_000_000) % 24 == hour)
    assert found[day, hour] == pytest.approx(signal.x[here].mean())
    assert np.isnan(found[10]).all()


def test_a_frozen_run_counts_until_it_gave_itself_away(make):
    """What an earlier day's figure was must not change when the run is found out later."""
    random = np.random.default_rng(8)
    times = make.grid(make.local(2026, 1, 5), 100)
    value = np.round(7.2 + make.noise(random, len(times), 0.9, 0.1), 2)
    value[90 * 96 - 3 : 92 * 96] = 6.9
    whole = signal_of(make.case(make.frame(times, value)))
    then = signal_of(make.case(make.frame(times, value), as_of=make.local(2026, 4, 5)))
    np.testing.assert_array_equal(whole.readings[:90], then.readings)
    np.testing.assert_array_equal(whole.roughness[:90], then.roughness)


def test_states_have_no_signal(make):
    times = make.grid(make.local(2026, 1, 5), 10)
    assert (
        signal_of(make.case(make.frame(times, np.ones(len(times))), tag=make.tag(measures="state"))) is None
    )
