"""Third family, sensors: its instruments, records and plan are what they are said to be."""

from functools import cache
from hashlib import sha256

import numpy as np
import pytest

from benchmarks import families_third_errors as errors
from benchmarks.detection_plan import mix, tasks
from benchmarks.families import MEASURES, STEPS_A_DAY
from benchmarks.families_cases import cases, readings_of
from benchmarks.families_sensors import HISTORY_DAYS, SCORED_DAYS, Order, grid
from benchmarks.families_third import THIRD_MEASURES, memory_of
from benchmarks.families_third_records import SPIKES_A_DAY, broken
from benchmarks.families_train import train
from benchmarks.faults import Fault

DAYS = HISTORY_DAYS + SCORED_DAYS
TIME, _ = grid(DAYS)


@cache
def _healthy(seed):
    orders = [Order("healthy", measure, "weekly") for measure in THIRD_MEASURES]
    return train("C", seed, orders)


@pytest.mark.parametrize("seed", range(4))
def test_healthy_instruments_drift_a_little_and_stay_inside_their_tolerance(seed):
    for sensor in _healthy(seed).sensors:
        error = np.abs(sensor.error)
        assert np.nanmax(error) < 1.0
        assert np.nanquantile(error, 0.9) < 0.6
        assert np.nanmax(error) > 0.1


def test_services_are_quarterly_on_working_days_and_take_most_of_the_error_away():
    waits, kinds, shares = [], [], []
    for seed in range(40):
        random, order = np.random.default_rng(seed), Order("healthy", "ph", "weekly")
        plan = errors.services(random, order, len(TIME), HISTORY_DAYS)
        slow, left = errors.healthy(random, THIRD_MEASURES["ph"], plan, len(TIME))
        waits += list(np.diff([row for row, _ in plan]) / STEPS_A_DAY)
        kinds += [kind for _, kind in plan]
        rows = [row for row, kind in plan if kind == "calibration"]
        shares += [abs(slow[row]) / THIRD_MEASURES["ph"].tolerance for row in rows]
        assert all((row // STEPS_A_DAY) % 7 < 5 for row, _ in plan)
        assert len(left) == len(plan)
    assert np.median(waits) == pytest.approx(91, abs=4)
    assert np.mean(np.array(waits) > 150) == pytest.approx(0.1, abs=0.06)
    assert np.mean(np.array(kinds) == "cleaning") == pytest.approx(0.2, abs=0.08)
    assert np.mean(shares) < 0.1


def test_tags_are_kept_every_five_minutes_fifteen_minutes_or_hour():
    found = {300: 0, 900: 0, 3600: 0}
    for seed in range(4):
        made = _healthy(seed)
        for sensor in made.sensors:
            time = readings_of(made.time, sensor).drop_nulls()["time"]
            steps = time.diff().drop_nulls().dt.total_seconds()
            assert (steps == sensor.step_s).mean() > 0.99
            assert (time.dt.epoch("s") % sensor.step_s == 0).all()
            found[sensor.step_s] += 1
    assert min(found.values()) >= 2
    assert found[900] == max(found.values())
    made = _healthy(0)
    for sensor, one in zip(made.sensors, cases(made).values(), strict=True):
        assert one.tag.step_s == sensor.step_s
        assert one.readings.height == pytest.approx(DAYS * 86400 / sensor.step_s, rel=0.01)


def test_some_converters_give_counts():
    """Ten bits over pH 0 to 14 are .0137 a count: of the hundredths about one in four is never shown."""
    shares = []
    for seed in range(30):
        (sensor,) = train("C", seed, [Order("healthy", "ph", "none")], 28, 28).sensors
        if sensor.measure.resolution == 0.01:
            shown = np.round(sensor.shown[np.isfinite(sensor.shown)] * 100).astype(int)
            middle = np.arange(*np.quantile(shown, [0.05, 0.95]).astype(int))
            shares.append(np.isin(middle, shown).mean())
    counted = np.array(shares) < 0.85
    assert 0.05 < counted.mean() < 0.5
    assert np.median(np.array(shares)[counted]) == pytest.approx(0.73, abs=0.06)


def test_a_trimmed_residual_never_shows_the_drift_of_its_analyser():
    moved = []
    for seed in range(24):
        order = Order("drift", "chlorine", "daily", "drift", 5.0, is_serviced=False)
        (sensor,) = train("C", seed, [order]).sensors
        day = int(sensor.faults[0].begin / STEPS_A_DAY) + 56
        shown = np.nanmedian(sensor.shown[(day - 5) * 96 : (day + 5) * 96])
        before = np.nanmedian(sensor.shown[(day - 70) * 96 : (day - 58) * 96])
        error = sensor.error[day] * sensor.measure.tolerance
        assert abs(error) == pytest.approx(0.1 * 8, abs=0.2)  # five times .02 mg/L a week, for eight weeks
        moved.append((shown - before) / error)
    held = np.abs(moved) < 0.35
    assert 2 <= held.sum() <= 12  # a quarter of 24: 6, sd 2.1
    assert np.median(np.array(moved)[~held]) > 0.6


@pytest.mark.parametrize("step_s", [300, 900, 3600])
def test_spikes_hit_two_kept_readings_a_day_at_any_pace(step_s):
    pace, ph = max(1, 900 // step_s), THIRD_MEASURES["ph"]
    count = 200 * STEPS_A_DAY * pace
    flat, fault = np.full(count, 7.0), Fault("spikes", 50 * STEPS_A_DAY, 200 * STEPS_A_DAY, 30.0)
    hit = broken(np.random.default_rng(4), fault, ph, flat, flat, step_s) != 7.0
    kept = np.arange(count) % max(1, step_s // 900) == 0
    assert not hit[~kept].any()
    assert not hit[: 50 * STEPS_A_DAY * pace].any()
    assert hit.sum() / 150 == pytest.approx(SPIKES_A_DAY, abs=0.4)  # Poisson: sd .12


def test_a_copy_shows_the_numbers_of_the_tag_beside_it():
    orders = [Order("beside", "ph", "none"), Order("copied", "ph", "none", "copied")]
    for seed in range(3):
        beside, copy = train("C", seed, orders).sensors
        after, before = slice(copy.faults[0].begin, None), slice(0, copy.faults[0].begin)
        both = np.isfinite(beside.shown) & np.isfinite(copy.shown)
        assert np.array_equal(beside.shown[after][both[after]], copy.shown[after][both[after]])
        assert np.mean(beside.shown[before][both[before]] == copy.shown[before][both[before]]) < 0.2


def test_oxygen_is_high_when_the_water_is_cold_and_never_past_its_solubility_at_zero():
    """14.6 mg/L at 0 degC and sea level (from memory)."""
    for seed in range(4):
        named = {one.measure.name: one for one in _healthy(seed).sensors}
        oxygen = np.nanmedian(named["dissolved_oxygen"].shown.reshape(-1, STEPS_A_DAY), axis=1)
        warmth = np.nanmedian(named["temperature"].shown.reshape(-1, STEPS_A_DAY), axis=1)
        assert np.nanmax(oxygen) < 14.6
        if _healthy(seed).running.mean() > 0.9:
            assert np.corrcoef(oxygen, warmth)[0, 1] < -0.4


def _bytes(made):
    parts = [np.asarray(one.shown).tobytes() + repr(one.grabs).encode() for one in made.sensors]
    parts += [one.between.tobytes() for one in made.sensors if one.between is not None]
    return sha256(b"".join(parts)).hexdigest()


def test_the_same_seed_is_the_same_bytes():
    orders = [Order("healthy", measure, "weekly") for measure in THIRD_MEASURES]
    assert _bytes(train("C", 1, orders)) == _bytes(_healthy(1))
    assert _bytes(_healthy(1)) != _bytes(_healthy(2))


def test_the_plan_of_c_is_its_own_and_its_mix_holds_other_kinds():
    others = {task.seed for family in "AB" for task in tasks(family, full=False)}
    own = tasks("C", full=False)
    assert others.isdisjoint(task.seed for task in own)
    held = {order.measure for task in own for order in task.orders if order.group == "mix"}
    assert held == set(THIRD_MEASURES)
    assert {order.measure for order in mix(5)} <= set(MEASURES)
    for name, measure in MEASURES.items():  # sizes of faults and what counts as an error stay the bench's
        third = THIRD_MEASURES[name]
        assert (third.tolerance, third.slow_rate) == (measure.tolerance, measure.slow_rate)
        assert memory_of(third)[0] > 0
