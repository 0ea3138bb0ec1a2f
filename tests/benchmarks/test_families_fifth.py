"""Fifth family: four small plants, the same for the same seed, whose truth is what it is said to be."""

from functools import cache

import numpy as np
import pytest

from benchmarks.detection_plan import SEEDS, tasks
from benchmarks.families import MEASURES, STEPS_A_DAY, working_of
from benchmarks.families_cases import cases, readings_of, tag_of
from benchmarks.families_fifth import FIFTH_MEASURES, PLANTS
from benchmarks.families_fifth_bench import OLD_HOUR_DAYS, _dated, slipped
from benchmarks.families_fifth_faults import _run_dry
from benchmarks.families_fifth_plan import region
from benchmarks.families_fifth_records import FINE, Recorder, kept_of, only_changes
from benchmarks.families_sensors import HISTORY_DAYS, SCORED_DAYS, Order, grid
from benchmarks.families_train import train
from benchmarks.faults import KINDS, Fault

SHORT = (56, 28)


def _mixed():
    return [task for task in tasks("E", full=False) if task.orders[0].group == "mix"]


@cache
def _made(number):
    task = _mixed()[number]
    return train("E", task.seed, list(task.orders), HISTORY_DAYS, SCORED_DAYS)


@cache
def _sensors():
    return [sensor for number in range(12) for sensor in _made(number).sensors]


def _one(kind, size, measure="ph", reference="none", seed=5, **more):
    return train("E", seed, [Order("x", measure, reference, kind, size, **more)]).sensors[0]


def test_a_region_has_four_plants_of_twelve_and_every_family_has_the_five():
    assert [len(places) for places in PLANTS.values()] == [12] * 4
    assert set(MEASURES) <= set(FIFTH_MEASURES)
    assert sum(len(task.orders) for task in _mixed()) == 480
    for name, measure in MEASURES.items():  # sizes of faults and what counts as an error stay the bench's
        own = FIFTH_MEASURES[name]
        assert (own.tolerance, own.slow_rate) == (measure.tolerance, measure.slow_rate)


def test_its_seeds_are_its_own():
    others = {task.seed for family in "ABCD" for task in tasks(family, full=False)}
    assert others.isdisjoint(task.seed for task in tasks("E", full=False))
    assert len(set(SEEDS.values())) == len(SEEDS)


def test_the_same_seed_gives_the_same_records():
    orders = [Order("mix", name, "weekly") for name in ("ph", "stream_ph", "stream_ph")]
    one, two = (train("E", 3, orders, *SHORT) for _ in range(2))
    for left, right in zip(one.sensors, two.sensors, strict=True):
        assert left.shown.tobytes() == right.shown.tobytes()
        assert (left.grabs, left.faults) == (right.grabs, right.faults)
        assert str(left.services) == str(right.services)


def test_two_thirds_are_sound_and_the_sound_ones_never_pass_their_tolerance():
    orders = [order for seed in range(30) for plant in region(seed) for order in plant]
    assert {order.kind for order in orders if order.kind} <= set(KINDS)
    assert np.mean([not order.kind for order in orders]) == pytest.approx(0.7, abs=0.04)
    sound = [sensor for sensor in _sensors() if not sensor.order.kind]
    assert len(sound) > 0.6 * len(_sensors())
    assert not any(sensor.faults for sensor in sound)
    assert max(np.nanmax(np.abs(sensor.error)) for sensor in sound) < 1.0


@pytest.mark.parametrize("measure", ["ph", "flow"])
def test_an_ordered_drift_grows_at_its_own_rate(measure):
    sensor = _one("drift", 2.5, measure, is_serviced=False)
    begin, m = int(sensor.faults[0].begin / STEPS_A_DAY), sensor.measure
    grown = abs(sensor.error[begin + 56] - sensor.error[begin]) * m.tolerance
    assert grown == pytest.approx(8 * 2.5 * m.slow_rate, abs=0.35 * m.tolerance)


def test_grid_faults_begin_in_their_window_in_plants_of_short_cycles_too():
    running = []
    for seed in range(8):
        made = train("E", seed, [Order("x", "ph", "none", "drift", 5.0, is_serviced=False)])
        begin = made.sensors[0].faults[0].begin / STEPS_A_DAY - HISTORY_DAYS
        assert 14 <= begin < 57
        running.append(made.running.mean())
    assert min(running) < 0.6 < max(running)


def test_a_factor_shows_in_the_truth_from_its_first_day_to_its_last():
    sensor = _one("scale", 1.3, "flow")
    first = int(np.ceil(sensor.faults[0].begin / STEPS_A_DAY))
    off = np.log(1.3) / sensor.measure.tolerance
    assert np.nanmedian(sensor.error[first:]) == pytest.approx(off, abs=0.6)
    assert np.nanmax(np.abs(sensor.error[: first - 1])) < 1.0


def test_faults_of_the_mix_end_and_with_them_the_error():
    ended = 0
    for sensor in _sensors():
        for fault in sensor.faults:
            last = int(np.ceil(fault.end / STEPS_A_DAY)) + 1
            assert HISTORY_DAYS * STEPS_A_DAY <= fault.begin < fault.end <= len(sensor.shown)
            if last < len(sensor.error) - 20 and len(sensor.faults) == 1:
                ended += 1
                assert np.nanmax(np.abs(sensor.error[last:])) < 1.0
        before = sensor.error[: min([f.begin // STEPS_A_DAY for f in sensor.faults], default=None)]
        assert np.nanmax(np.abs(before)) < 1.0
    assert ended >= 5


def test_the_truth_is_what_daily_grabs_tell():
    held = [
        one for one in _sensors() if one.order.reference == "daily" and not one.faults and not one.heartbeat_s
    ]
    assert len(held) >= 5
    for sensor in held:
        m = sensor.measure
        rows, values = np.array([row for row, _, _ in sensor.grabs]), np.array([v for *_, v in sensor.grabs])
        off = (working_of(m, sensor.shown[rows]) - working_of(m, values)) / m.tolerance - (
            sensor.error[rows // STEPS_A_DAY]
        )
        assert abs(np.nanmedian(off)) < 0.3


def test_streams_of_one_analyser_share_its_error_its_faults_and_its_logbook():
    for number in (2, 6, 10):
        streams = [one for one in _made(number).sensors if one.order.measure == "stream_turbidity"]
        assert len(streams) == 3
        assert len({one.faults for one in streams}) == 1
        assert len({tuple(row for row, *_ in one.services) for one in streams}) == 1
        if not streams[0].faults:
            assert np.nanmax(np.abs(streams[0].error - streams[1].error)) < 1e-6


def test_wells_run_in_short_cycles_some_times_a_day():
    starts, shares = [], []
    for number in (0, 4, 8):
        running = _made(number).running
        starts.append((np.diff(running.astype(int)) == 1).sum() / (HISTORY_DAYS + SCORED_DAYS))
        shares.append(running.mean())
    assert 2.0 < np.mean(starts) < 6.0
    assert 0.15 < np.mean(shares) < 0.6


def test_the_sun_drives_a_lagoon_and_not_its_ice():
    for number in (3, 7):
        (ph,) = [one for one in _made(number).sensors if one.order.measure == "lagoon_ph"]
        swing = np.nanquantile(ph.shown.reshape(-1, STEPS_A_DAY), [0.05, 0.95], axis=1)
        daily = np.diff(swing, axis=0)[0]
        assert np.nanquantile(daily, 0.9) > 4 * np.nanquantile(daily, 0.1)


def test_all_ways_to_record_are_there():
    ways = {(one.step_s, bool(one.heartbeat_s)) for one in _sensors()}
    assert ways >= {(300, False), (900, False), (3600, False), (900, True)}
    changing = [one for one in _sensors() if one.heartbeat_s]
    for one in changing:
        assert (tag_of(one).recording, tag_of(one).heartbeat_s) == ("on change", one.heartbeat_s)
    time = readings_of(_made(0).time, changing[0]).drop_nulls()["time"]
    gaps = time.diff().drop_nulls().dt.total_seconds().to_numpy()
    assert np.mean(gaps <= changing[0].heartbeat_s + changing[0].step_s) > 0.99


def test_a_recorder_averages_what_came_before_and_keeps_what_passes_its_band():
    fine = np.arange(24.0)
    mean = kept_of(fine, Recorder("mean", 900, 0.0, None))
    assert mean[9] == pytest.approx(np.mean(fine[7:10]))
    assert np.isfinite(mean).sum() == 24 / FINE
    told = only_changes(np.array([1.0, 1.1, 1.2, 1.5, 1.5, 1.5]), Recorder("change", 300, 0.3, 900))
    assert told[[0, 3]].tolist() == [1.0, 1.5]
    assert np.isnan(told[[1, 2, 4, 5]]).all()


def test_reagent_that_runs_out_leaves_nothing_over_a_weekend():
    course = np.full(1000, 1.2)
    off = _run_dry(Fault("step", 100, 348, 2.0), FIFTH_MEASURES["chlorine"], course)
    assert off[347] == pytest.approx(-1.2, abs=0.05)
    assert not off[:100].any()
    assert not off[348:].any()


@pytest.mark.parametrize("number", range(4))
def test_every_sensor_makes_a_case(number):
    made = _made(number)
    for sensor, known in zip(made.sensors[:3], cases(made).values(), strict=False):
        assert known.tag.measures == sensor.measure.name
        assert known.readings.height > 1000


@pytest.mark.parametrize(("number", "slips"), [(7.2, {2.7, 0.72, 72.0}), (0.8, {8.0, 0.08})])
def test_slips_of_the_pen(number, slips):
    assert {slipped(np.random.default_rng(seed), number) for seed in range(40)} == slips


def test_an_old_hour_is_kept_for_weeks_after_the_clocks_change_and_never_else():
    """Clocks go back on the first Sunday of November (2024: 3, day 125), on in March (2025: 9, day 251)."""
    _, clock = grid(400)
    taken = np.arange(1, 398) * STEPS_A_DAY + 36
    off = np.stack([_dated(np.random.default_rng(seed), taken, clock) - taken for seed in range(60)])
    hours = np.where(np.abs(off) == 4, off, 0)
    days = np.arange(1, 398)
    back, on = (days > 125) & (days < 125 + OLD_HOUR_DAYS[1]), (days > 251) & (days < 251 + OLD_HOUR_DAYS[1])
    assert set(np.unique(hours[:, back])) == {0, 4}
    assert set(np.unique(hours[:, on])) == {0, -4}
    assert not hours[:, ~(back | on) & (days != 125) & (days != 251)].any()
