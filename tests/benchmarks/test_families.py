"""Families: noise as theory has it, instruments healthy where they are said to be, the same each time."""

import numpy as np
import pytest
from scipy.stats import kurtosis

from benchmarks.families import FAMILIES, MEASURES, STEPS_A_DAY, memory, wander
from benchmarks.families_cases import cases
from benchmarks.families_sensors import HISTORY_DAYS, Order
from benchmarks.families_train import train
from benchmarks.faults import RECORD_KINDS, SIZES, Fault, broken_record

FIVE = [Order("healthy", measure, "weekly") for measure in MEASURES]


def test_memory_is_a_first_order_process():
    """Correlation exp(-k/tau) and unit variance; Bartlett's standard error of a correlation is about .01."""
    days = 0.5
    noise = memory(np.random.default_rng(1), 400_000, days)
    assert np.std(noise) == pytest.approx(1.0, abs=0.03)
    for lag in (1, 12, 48):
        found = np.mean(noise[:-lag] * noise[lag:]) / np.var(noise)
        assert found == pytest.approx(np.exp(-lag / (STEPS_A_DAY * days)), abs=0.03)


def test_b_has_heavier_tails_and_more_memories_than_a():
    a, b = (wander(np.random.default_rng(2), FAMILIES[name], 200_000, 1.5) for name in "AB")
    assert abs(kurtosis(np.diff(a))) < 0.2  # normal: 0
    assert kurtosis(np.diff(b)) > 1.0
    week = 7 * STEPS_A_DAY
    lasting = [np.mean(x[:-week] * x[week:]) / np.var(x) for x in (a, b)]
    assert lasting[1] > lasting[0] + 0.05


def test_daily_scatter_is_that_of_open_plant_records():
    """GECCO 2017: pH .05, turbidity 18 % (robust sd of detrended daily medians); within a factor of 1.6."""
    made = [
        train("A", seed, [Order("healthy", "ph", "none"), Order("healthy", "turbidity", "none")])
        for seed in range(4)
    ]
    for number, published in ((0, 0.05), (1, 0.18)):
        spread = []
        for one in made:
            known = list(cases(one).values())[number].daily["value"].to_numpy()
            slow = np.convolve(np.nan_to_num(known, nan=np.nanmedian(known)), np.ones(29) / 29, "same")
            spread.append(1.4826 * np.nanmedian(np.abs(known - slow)))
        assert published / 1.6 < np.median(spread) < published * 1.6


def test_healthy_instruments_stay_inside_their_tolerance():
    """They wander by 40 % of it from service to service, more only where a service did not take it away."""
    for family in "AB":
        for sensor in train(family, 3, FIVE).sensors:
            assert np.nanmax(np.abs(sensor.error)) < 1.0
            assert np.nanquantile(np.abs(sensor.error), 0.9) < 0.6
            assert np.nanmax(np.abs(sensor.error)) > 0.1


def test_the_same_seed_is_the_same_train():
    one, other, third = train("B", 5, FIVE), train("B", 5, FIVE), train("B", 6, FIVE)
    for a, b, c in zip(one.sensors, other.sensors, third.sensors, strict=True):
        assert np.array_equal(a.shown, b.shown, equal_nan=True)
        assert a.grabs == b.grabs
        assert not np.array_equal(a.shown, c.shown, equal_nan=True)


def test_a_drift_is_as_large_as_ordered():
    made = train("A", 7, [Order("drift", "ph", "none", "drift", 2.5, is_serviced=False)])
    (sensor,), (fault,) = made.sensors, made.sensors[0].faults
    first, last = int(fault.begin / STEPS_A_DAY), len(sensor.error) - 1
    weeks = (last - first) / 7
    grown = abs(sensor.error[last] - sensor.error[first]) * MEASURES["ph"].tolerance
    assert grown == pytest.approx(0.05 * weeks, abs=0.2)  # 0.05 pH a week, and the healthy wander


@pytest.mark.parametrize("kind", RECORD_KINDS)
def test_every_fault_of_the_recording_shows_while_it_lasts_and_not_before(kind):
    orders = [Order("sound", "ph", "none"), Order("broken", "chlorine", "none", kind, SIZES[kind][-1])]
    healthy = [orders[0], Order("broken", "chlorine", "none")]
    made, sound = train("A", 8, orders).sensors[1], train("A", 8, healthy).sensors[1]
    (fault,) = made.faults
    before = slice(0, HISTORY_DAYS * STEPS_A_DAY)
    assert np.std(made.shown[before]) == pytest.approx(np.std(sound.shown[before]), rel=0.25)
    here, other = made.shown[fault.begin : fault.end], train("A", 8, orders).sensors[0].shown
    lively = np.std(np.diff(made.shown[before]))
    shows = {
        "stuck": lambda: len(here) == 72 * 4 and np.ptp(here) == 0,
        "gap": lambda: np.isnan(here).all(),
        "out_of_range": lambda: (here > MEASURES["chlorine"].high).all(),
        "copied": lambda: np.array_equal(here, np.clip(other[fault.begin : fault.end], 0, 5)),
        "resolution": lambda: np.allclose(here / 0.2, np.round(here / 0.2)),
        "pegged": lambda: np.mean(here == here.max()) == pytest.approx(1 - 0.7, abs=0.1),
        "scale": lambda: np.median(here) == pytest.approx(0.1 * np.median(made.shown[before]), rel=0.5),
        "noisier": lambda: np.std(np.diff(here)) > 1.5 * lively,
        "spikes": lambda: np.std(np.diff(here)) > 1.5 * lively,
        "damped": lambda: np.std(np.diff(here)) < 0.5 * lively,
        "clock": lambda: len(here) > 0,
    }
    assert shows[kind]()


def test_a_clock_two_hours_late_shows_what_was_two_hours_ago():
    ramp, fault = np.arange(200.0), Fault("clock", 100, 200, 2.0)
    late = broken_record(np.random.default_rng(1), fault, MEASURES["ph"], ramp, ramp)
    assert np.array_equal(late[:100], ramp[:100])
    assert np.array_equal(late[100:], ramp[100:] - 8)
