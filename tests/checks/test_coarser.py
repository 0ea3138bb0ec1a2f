"""Coarser: larger steps of the recording, exact to the step."""

import numpy as np
import pytest


@pytest.mark.parametrize("times", [3, 5, 10])
def test_the_steps_are_named_exactly(find, ailing, as_known, make, times):
    sensor = ailing(scatter=0.1)
    value = np.round(sensor.value, 2)
    coarse = 0.01 * times
    value[120 * 96 :] = np.round(np.round(value[120 * 96 :] / coarse) * coarse, 2)
    sensor.frame = make.frame(sensor.frame["time"], value)
    (finding,) = find("coarser", as_known(sensor))
    assert f"lie pH {coarse:.2f} apart" in finding.evidence and "step was pH 0.01" in finding.evidence
    # For the record: no reading is wrong by more than half a step.
    assert finding.severity == "note" and finding.is_open
    first = sensor.frame["time"][120 * 96]
    assert abs((finding.start - first).total_seconds()) <= 86_400


def test_one_reading_in_between_shows_that_nothing_changed(find, ailing, as_known, make):
    sensor = ailing("coarser")
    value = np.round(sensor.value, 1)
    value[: 120 * 96] = np.round(sensor.value[: 120 * 96], 2)
    value[120 * 96 :: 96] += 0.01
    sensor.frame = make.frame(sensor.frame["time"], np.round(value, 2))
    assert find("coarser", as_known(sensor)) == []


@pytest.mark.parametrize("kind", ["", "noisy", "damped", "spikes", "clock_shift"])
def test_other_ailments_keep_the_steps(find, ailing, as_known, kind):
    assert find("coarser", as_known(ailing(kind))) == []


@pytest.mark.parametrize("seed", range(6))
def test_a_few_readings_a_day_do_not_tell_the_step(find, make, seed):
    """A well's flow every hour of the nine that it runs: its step is 0.1 gpm all the time."""
    random = np.random.default_rng(seed)
    times = make.grid(make.local(2024, 6, 1), 200, 3600)
    value = np.round(310.0 + make.noise(random, len(times), 0.9, 4.0), 1)
    tag = make.tag(measures="flow", unit="gpm", high=500.0, resolution=0.1, step_s=3600)
    runs = np.arange(len(times)) % 24 < 9
    frame = make.frame(times.filter(runs), value[runs])
    assert find("coarser", make.case(frame, tag=tag)) == []
