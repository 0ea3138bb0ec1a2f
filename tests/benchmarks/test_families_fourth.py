"""Fourth family: forty sensors a plant, the same for the same seed, with what the others lack."""

from datetime import time as clock
from functools import cache

import numpy as np
import pytest

from benchmarks.detection_plan import SEEDS, roster, tasks
from benchmarks.families import MEASURES, STEPS_A_DAY
from benchmarks.families_cases import cases
from benchmarks.families_fourth import FOURTH_MEASURES, ROLES, TRAINS, rounded
from benchmarks.families_sensors import HISTORY_DAYS, SCORED_DAYS, ZONE, Order
from benchmarks.families_train import train
from benchmarks.faults import KINDS

SHORT = (56, 28)


@cache
def _plant(part):
    seed = SEEDS["D"] + 7
    return train("D", seed, list(roster(seed, TRAINS[part])), HISTORY_DAYS, SCORED_DAYS)


def test_a_plant_has_forty_sensors_and_every_family_has_the_five():
    assert sum(len(roles) for roles in TRAINS) == 40
    assert set(MEASURES) <= set(FOURTH_MEASURES)
    mixed = [task for task in tasks("D", full=False) if task.orders[0].group == "mix"]
    assert sum(len(task.orders) for task in mixed) == 480


def test_the_same_seed_gives_the_same_records():
    orders = [Order("x", name, "weekly", is_serviced=True) for name in ("ph", "oxygen", "ammonia")]
    one, two = (train("D", 3, orders, *SHORT) for _ in range(2))
    for left, right in zip(one.sensors, two.sensors, strict=True):
        assert left.shown.tobytes() == right.shown.tobytes()
        assert (left.grabs, left.faults) == (right.grabs, right.faults)
        assert str(left.services) == str(right.services)


def test_a_third_of_the_sensors_are_faulty_and_every_fault_is_one_of_the_list():
    orders = [order for seed in range(30) for roles in TRAINS for order in roster(seed, roles)]
    faulty = [order.kind for order in orders if order.kind]
    assert set(faulty) <= set(KINDS)
    assert len(faulty) / len(orders) == pytest.approx(0.3, abs=0.04)


def test_some_water_plants_run_ten_hours_a_day():
    shares = [train("D", seed, [Order("x", "ph", "none")], *SHORT).running.mean() for seed in range(20)]
    short = [share for share in shares if share < 0.6]
    assert 3 <= len(short) <= 12
    assert np.mean(short) == pytest.approx(10 / 24, abs=0.03)


@pytest.mark.parametrize("part", [0, 1])
def test_no_grabs_on_weekends_and_whole_weeks_without(part):
    for sensor in _plant(part).sensors:
        days = np.array([row // STEPS_A_DAY for row, _, _ in sensor.grabs])
        if len(days):
            assert (days % 7 < 5).all()
            assert np.diff(days).max() >= 8


def test_eight_in_the_morning_is_that_of_the_wall_clock_summer_and_winter():
    for seed in range(20):
        made = train("D", seed, [Order("x", "ph", "daily")], 196, 28)
        stamps = {made.time[row].astimezone(ZONE).time() for row, _, _ in made.sensors[0].grabs}
        if len(stamps) == 1:
            assert stamps == {clock(8)}
            return
    pytest.fail("no plant writes down eight o'clock")


@pytest.mark.parametrize("part", [0, 1])
def test_every_sensor_makes_a_case(part):
    made = _plant(part)
    for sensor, known in zip(made.sensors[:6], cases(made).values(), strict=False):
        assert known.tag.measures == ROLES[sensor.order.measure].measure.name
        assert known.readings.height > 1000


@pytest.mark.parametrize(("role", "value", "told"), [("ph", 7.44, 7.4), ("turbidity", 1.234, 1.2)])
def test_the_bench_rounds(role, value, told):
    assert rounded(ROLES[role], value) == told
