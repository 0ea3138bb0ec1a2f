"""Spikes: many are for a visit, few for the record, and what a plant does by habit is neither."""

import re
from datetime import timedelta

import numpy as np
import pytest


def test_many_are_for_a_visit(find, ailed):
    (finding,) = find("spikes", ailed("spikes"))
    assert finding.severity == "watch" and finding.is_open
    # Down is the one reading between two spikes.
    up, down = (int(n) for n in re.search(r"\((\d+) up and (\d+) down\)", finding.evidence).groups())
    assert up > 10 * down


def test_all_of_them_are_counted_and_their_height_is_right(find, ailing, as_known):
    """Twenty times the scatter of 0.03 pH is 0.6 pH; the height is taken over the nearer neighbour."""
    sensor, sound = ailing("spikes"), ailing()
    hits = int((sensor.value - sound.value > 0.5).sum())
    (finding,) = find("spikes", as_known(sensor))
    counted = int(finding.evidence.split()[0])
    # One that follows another at once, or stands at the very end, is not up and back.
    assert 0.9 * hits <= counted <= hits
    height = float(finding.evidence.split("by ")[1].split(" or")[0])
    assert height == pytest.approx(0.6, abs=0.06)


def _with(make, sensor, at, height=1.0):
    value = sensor.value.copy()
    value[np.asarray(at, dtype=int)] += height
    sensor.frame = make.frame(sensor.frame["time"], np.round(value, 2))
    return sensor


def test_few_are_for_the_record(find, ailing, as_known, make):
    at = 96 * 140 + np.array([10, 150, 320, 460])
    (finding,) = find("spikes", as_known(_with(make, ailing(), at)))
    assert finding.severity == "note" and not finding.is_open and finding.listed is None


def test_one_or_two_are_nothing(find, ailing, as_known, make):
    assert find("spikes", as_known(_with(make, ailing(), 96 * 140 + np.array([10, 150])))) == []


def test_it_is_listed_on_the_day_it_became_many(find, ailing, as_known, make):
    at = 96 * 140 + 40 + 96 * np.array([0, 1, 2, 3, 4, 5, 6, 6.3, 7, 8])
    (finding,) = find("spikes", as_known(_with(make, ailing(), at)))
    assert finding.severity == "watch"
    assert (finding.listed - finding.crossed).days == 4  # the third, then the seventh within seven days


def test_a_step_and_a_plateau_are_no_spikes(find, ailing, as_known, make):
    sensor = ailing()
    value = sensor.value.copy()
    for day in range(120, 180, 2):
        value[96 * day : 96 * day + 12] += 0.8
    sensor.frame = make.frame(sensor.frame["time"], np.round(value, 2))
    assert find("spikes", as_known(sensor)) == []


def test_what_a_plant_does_every_other_day_is_a_habit(find, ailing, as_known, make):
    """Another filter's wash shows as one high reading every second day, all the record long."""
    at = np.arange(20, 96 * 199, 192)
    assert find("spikes", as_known(_with(make, ailing(), at))) == []


def test_after_a_damped_spell_the_usual_scatter_is_no_spike(find, ailing, as_known):
    assert find("spikes", as_known(ailing("damped", until=150))) == []


@pytest.fixture(scope="module")
def coarse(find, ailing, as_known, make):
    """Return what is said of calm water on a display in steps of 0.05, where tags.csv promises 0.01."""

    def run(seed, leap=0.0):
        sensor, random = ailing(), np.random.default_rng(seed)
        count = len(sensor.value)
        value = 7.4 + make.noise(random, count, 0.998, 0.05) + 0.012 * random.standard_normal(count)
        value[140 * 96 : 150 * 96 : 12] += leap
        sensor.frame = make.frame(sensor.frame["time"], np.round(np.round(value / 0.05) * 0.05, 2))
        return find("spikes", as_known(sensor))

    return run


@pytest.mark.parametrize("seed", range(4))
def test_a_flicker_between_two_values_of_the_display_is_no_spike(coarse, seed):
    """Water between two steps of a display shows now the one, now the other: common practice, no source."""
    assert coarse(seed) == []


def test_what_leaps_by_many_steps_of_the_display_is_one(coarse):
    (finding,) = coarse(0, leap=0.5)
    assert finding.severity == "watch"


@pytest.mark.parametrize("hours", [0.0, 30.0])
def test_what_leaps_while_somebody_is_there_is_theirs(find, ailing, as_known, make, hours):
    """Out of the water, in one buffer and the next, for two hours, and only the service is written down."""
    sensor = _with(make, ailing(), 96 * 140 + 40 + 2 * np.arange(4), 1.5)
    sensor = _with(make, sensor, 96 * 140 + 41 + 2 * np.arange(4), -1.5)
    first = sensor.frame["time"][96 * 140 + 40]
    sensor.services = make.services([first + timedelta(hours=hours)])
    assert bool(find("spikes", as_known(sensor))) == (hours > 2)


def test_rain_comes_in_bursts(find, make):
    """Two dry months, then a squall a day: a minute or a quarter of an hour of it is no loose connection."""
    random = np.random.default_rng(3)
    rain = np.zeros(200 * 96)
    rain[random.integers(0, len(rain), 60)] = 0.02
    rain[150 * 96 + random.choice(50 * 96, 80, replace=False)] = np.round(random.exponential(0.2, 80), 2)
    tag = make.tag(measures="rain", unit="in/h", low=0.0, high=10.0, resolution=0.01)
    case = make.case(make.frame(make.grid(make.local(2026, 1, 5), 200), rain), tag=tag)
    assert find("spikes", case) == []
