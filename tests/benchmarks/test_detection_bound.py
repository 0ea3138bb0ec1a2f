"""The bound on what can be named in time: its courses are the family's, its rule that of the score."""

from dataclasses import replace

import numpy as np
import pytest

from benchmarks import detection_bound as bound
from benchmarks.detection_plan import mix
from benchmarks.families import shown_as, working_of
from benchmarks.families_sensors import HISTORY_DAYS, SCORED_DAYS
from benchmarks.families_train import train
from benchmarks.scoring import Record, Said, is_true

PLAN = [(20, "calibration"), (50, "cleaning"), (80, "calibration")]
SEED = 11


@pytest.fixture(autouse=True)
def few(monkeypatch):
    monkeypatch.setattr(bound, "COURSES", 2000)


@pytest.fixture(scope="module")
def sensors():
    made = [train("B", seed, list(mix(seed))) for seed in range(SEED, SEED + 3)]
    return [sensor for one in made for sensor in one.sensors if sensor.order.reference == "weekly"]


@pytest.mark.parametrize("now, later", [(1.1, 0.5), (0.3, 1.2), (0.1, 1.2), (0.3, 0.9), (-0.5, 1.5)])
def test_an_entry_is_right_as_the_score_has_it(now, later):
    ahead = np.linspace(now, later, 41)
    error = np.concatenate([np.full(101, now), ahead[1:]])
    record = Record("mix", "ph", "weekly", 0, error, (), (len(error) - 1.0,), 30.0, ())
    claimed = Said("drift", "watch", "lab grab", 100.0, 100.0, None, True, 1.0)
    assert bool(bound._would_be_right(ahead[None, :-1])[0]) == is_true(record, claimed)


def test_a_drift_adds_up_from_its_beginning_and_again_from_each_calibration():
    weeks = bound._weeks(np.array([6.5]), [20, 80])[0]
    assert weeks[[6, 13, 19, 27, 87]] == pytest.approx([0.0, 1.0, 13 / 7, 7.5 / 7, 7.5 / 7])


def test_a_wrong_setting_comes_with_a_calibration_and_goes_with_the_next():
    wrong = bound._wrongly_set(np.array([30.0, 90.0]), [20, 80, 110])
    assert np.flatnonzero(wrong[0]).tolist() == list(range(80, 110))
    assert np.flatnonzero(wrong[1]).tolist() == list(range(110, SCORED_DAYS))


def test_the_drawn_faults_weigh_as_much_as_the_plants_have_them():
    _, weight = bound.faulty(np.random.default_rng(1), PLAN)
    assert np.exp(weight).mean() == pytest.approx(1.0, abs=0.05)


def test_sound_courses_scatter_as_the_sound_sensors_of_the_family_do(sensors):
    sound = [one for one in sensors if not one.order.kind]
    true = np.concatenate([one.error[HISTORY_DAYS:] for one in sound])
    drawn = [bound.natural(np.random.default_rng(1), one, _plan(one)) for one in sound]
    spread = np.sqrt(np.nanmean(true**2))
    assert np.sqrt(np.mean([np.mean(error**2) for error in drawn])) == pytest.approx(spread, rel=0.35)


def test_chances_rise_with_grabs_that_show_an_error(sensors):
    """Grabs moved by two tolerances are an error of two tolerances."""
    sound = next(one for one in sensors if not one.order.kind)
    m = sound.measure
    moved = [
        (row, minute, float(shown_as(m, working_of(m, np.float64(value)) - 2 * m.tolerance)))
        for row, minute, value in sound.grabs
    ]
    before, after = (bound.chances(one, (1,)) for one in (sound, replace(sound, grabs=moved)))
    assert max(above for above, _ in after) > 0.9 > max(above for above, _ in before)


def _plan(sensor):
    first = HISTORY_DAYS * 96
    return [(row // 96 - HISTORY_DAYS, kind) for row, kind, *_ in sensor.services if row >= first]
