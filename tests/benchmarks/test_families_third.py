"""Third family: its water and what happens to its trains are what they are said to be."""

from datetime import UTC, date, datetime, timedelta
from functools import cache

import numpy as np
import pytest
from scipy.stats import kurtosis, skew

from benchmarks.families import STEPS_A_DAY, YEAR_DAYS
from benchmarks.families_cases import SETTLE
from benchmarks.families_sensors import HISTORY_DAYS, SCORED_DAYS, ZONE, grid
from benchmarks.families_third import (
    THIRD_MEASURES,
    scatter,
    season,
    setpoints,
    showers,
    water,
    weather,
)
from benchmarks.families_third_events import carried, plant

DAYS = HISTORY_DAYS + SCORED_DAYS
TIME, CLOCK = grid(DAYS)
UTC_AT_MIDNIGHT = 6.0  # daylight saving time in Denver
MANY = 240_000


@cache
def _plants(count=60):
    return [plant(np.random.default_rng([seed, 11]), CLOCK, UTC_AT_MIDNIGHT) for seed in range(count)]


def _days(course):
    return np.median(course.reshape(-1, STEPS_A_DAY), axis=1)


PUBLISHED = {
    "ph": (0.05, 0.54),
    "turbidity": (0.18, 0.65),
    "chlorine": (0.06 * THIRD_MEASURES["chlorine"].level, 0.70),
    "temperature": (0.23, 0.89),
    "conductivity": (None, 0.90),
}
"""GECCO 2017 challenge, 85 days at one minute: sd of detrended daily medians, lag-one correlation."""


@pytest.mark.parametrize("name", PUBLISHED)
def test_the_water_scatters_and_remembers_from_day_to_day_as_open_records_do(name):
    sd, correlation = PUBLISHED[name]
    every = [_days(weather(np.random.default_rng(s), THIRD_MEASURES[name], len(TIME))) for s in range(8)]
    assert np.mean([np.corrcoef(d[1:], d[:-1])[0, 1] for d in every]) == pytest.approx(correlation, abs=0.06)
    if sd:
        assert np.mean([d.std() for d in every]) == pytest.approx(sd, rel=0.2)


def test_showers_are_shot_noise():
    """Campbell's theorem: skewness 2 / sqrt(rate * memory) of exponential shocks that all go up."""
    rain = showers(np.random.default_rng(1), 20 * MANY, 2.0, 1.0)
    assert np.mean(rain) == pytest.approx(0.0, abs=0.03)
    assert np.std(rain) == pytest.approx(1.0, abs=0.03)
    assert skew(rain) == pytest.approx(2 / np.sqrt(1.5 * 2.0), abs=0.1)


def test_readings_scatter_sharply_or_to_one_side():
    """Laplace: excess kurtosis 3; gamma of shape 2: skewness sqrt(2); both of the instrument's own sd."""
    sharp, sided = (scatter(np.random.default_rng(2), THIRD_MEASURES[n], MANY) for n in ("ph", "turbidity"))
    assert kurtosis(sharp) == pytest.approx(3.0, abs=0.2)
    assert skew(sharp) == pytest.approx(0.0, abs=0.1)
    assert skew(sided) == pytest.approx(np.sqrt(2), abs=0.1)
    for made, name in ((sharp, "ph"), (sided, "turbidity")):
        assert np.std(made) == pytest.approx(THIRD_MEASURES[name].fast_sd, rel=0.02)


def test_a_change_to_the_wells_moves_several_tags_of_a_train_at_once():
    """Well water: more minerals, less oxygen, clearer, of another pH (hydrology, from memory)."""
    drawn = [one for one in _plants() if one.wells.max() > 0]
    assert len(drawn) / len(_plants()) == pytest.approx(0.4, abs=0.2)  # 60 draws: sd .063
    down = {"ph": -1, "dissolved_oxygen": -1, "conductivity": 1, "turbidity": -1}
    moved = {name: [] for name in down}
    for seed, one in enumerate(drawn):
        begin = int(np.argmax(one.wells > 0))
        for name in down:
            course = water(np.random.default_rng([seed, 3]), THIRD_MEASURES[name], CLOCK, one, False)
            before, after = course[begin - 3 * 96 : begin], course[begin + 96 : begin + 4 * 96]
            moved[name].append((np.median(after) - np.median(before)) / THIRD_MEASURES[name].day_sd)
    for name, sign in down.items():
        assert np.median(moved[name]) * sign > 2.0
        assert np.mean(np.array(moved[name]) * sign > 0) > 0.75
    assert np.median([np.abs(np.diff((one.wells > 0.5).astype(int))).sum() for one in drawn]) >= 4


def test_what_comes_down_the_train_comes_later_and_mixed():
    pulse = np.zeros(2000)
    pulse[500:504] = 1.0
    arrived = carried(pulse, 6.0, 2.0)
    assert np.argmax(arrived) == 503 + 6 * 4
    assert arrived.sum() == pytest.approx(pulse.sum(), rel=0.01)
    assert arrived.max() == pytest.approx(1 - np.exp(-1 / 2.0), abs=0.01)  # first order, one hour of two


def test_a_storm_moves_several_tags_and_not_at_the_same_hour():
    """One after the other: what is most like the storm is hours apart from tag to tag (10 h the most)."""
    moved, apart = {"turbidity": [], "conductivity": [], "ph": []}, []
    for seed, one in enumerate(one for one in _plants() if one.wells.max() == 0 and one.storm.max() > 1.5):
        top = int(np.argmax(one.storm))
        if not 20 * 96 < top < len(TIME) - 5 * 96:
            continue
        late = []
        for number, name in enumerate(moved):
            random = np.random.default_rng([seed, number])
            course = water(random, THIRD_MEASURES[name], CLOCK, one, False)
            part = course[top - 96 : top + 3 * 96] - np.median(course[top - 14 * 96 : top + 14 * 96])
            moved[name].append(part[np.argmax(np.abs(part))] / THIRD_MEASURES[name].day_sd)
            late.append(_hours_late(one.storm[top - 96 : top + 2 * 96], part))
        apart.append(np.ptp(late))
    assert len(apart) >= 8
    assert np.median(moved["turbidity"]) > 4
    assert np.median(moved["conductivity"]) < -3
    assert np.median(moved["ph"]) < -3
    assert np.median(apart) > 3.0


def _hours_late(storm, part):
    alike = [abs(np.corrcoef(storm, part[lag : lag + len(storm)])[0, 1]) for lag in range(60)]
    return np.argmax(alike) / 4


def test_storms_come_in_the_warm_half_of_the_year():
    level = sum(one.storm for one in _plants())
    year = CLOCK.day % YEAR_DAYS  # from the first of July
    summer = (year < 91) | (year > 274)
    assert level[summer].mean() > 1.5 * level[~summer].mean()


def test_set_points_move_by_whole_steps_and_swing_in():
    """Response of a second-order loop: the first overshoot is exp(-pi/2), 21 % of the step."""
    courses = [setpoints(np.random.default_rng(seed), 0.1, CLOCK) for seed in range(40)]
    ends = np.array([course[-1] / 0.1 for course in courses])
    assert np.abs(ends - np.round(ends)).max() < 0.05
    assert np.mean([np.ptp(course) > 0.05 for course in courses]) > 0.6  # two a year, a fifth of them no move
    first = next(course for course in courses if course.any())
    begin = int(np.argmax(first != first[0]))
    part = first[begin : begin + 96] / first[begin + 96]
    assert part.max() == pytest.approx(1.21, abs=0.03)
    assert not setpoints(np.random.default_rng(1), 0.0, CLOCK).any()


def test_seasons_differ_from_year_to_year_and_crest_when_they_should():
    courses = [season(np.random.default_rng(seed), 25.0, CLOCK) for seed in range(30)]
    whole = int(YEAR_DAYS * STEPS_A_DAY)
    apart = [np.sqrt(np.mean((c[whole:] - c[: len(c) - whole]) ** 2)) for c in courses]
    assert np.median(apart) > 0.21  # the knots alone make .16
    swing = np.mean(courses, axis=0)
    assert abs(CLOCK.day[np.argmax(swing[:whole])] - 25) < 40 or CLOCK.day[np.argmax(swing[:whole])] > 350
    assert np.ptp(swing[:whole]) / 2 == pytest.approx(1.0, abs=0.2)


def test_night_plants_run_by_the_wall_clock_and_are_flushed_out_when_readings_count_again():
    night = [one for one in _plants() if one.is_night_plant]
    assert 3 <= len(night) <= 18  # .15 of 60: 9, sd 2.8
    hours = CLOCK.hour[night[0].running]
    assert set(np.unique(np.floor(hours))) == {*range(8), *range(20, 24)}
    settle = int(SETTLE / timedelta(minutes=15))
    for one in _plants()[:20]:
        starts = np.flatnonzero(np.diff(one.running.astype(int)) == 1) + 1
        assert one.standing[~one.running].max() > 0.3
        for start in starts[starts < len(TIME) - 8]:
            if one.running[start : start + 8].all():
                assert one.standing[start + settle : start + 8].max() < 0.01


def test_the_hour_that_comes_twice_is_lost_once_and_the_sun_does_not_care():
    """Clocks go back at two in the morning of the first Sunday in November (Energy Policy Act of 2005)."""
    losing = [one for one in _plants() if one.lost.any()]
    assert 0.15 < len(losing) / len(_plants()) < 0.55
    rows = np.flatnonzero(losing[0].lost)
    sundays = [date(2024, 11, 3), date(2025, 11, 2)]
    stamps = [datetime(d.year, d.month, d.day, 7, 15 * q, tzinfo=UTC) for d in sundays for q in range(4)]
    assert [TIME[int(row)] for row in rows] == stamps  # one o'clock daylight saving time is seven UTC
    for one in _plants()[:3]:
        assert np.allclose(np.diff(one.solar_hour) % 24, 0.25)
    noon = datetime(2025, 1, 15, 12, tzinfo=ZONE)
    at = int((noon - TIME[0]).total_seconds() // 900)
    assert _plants()[0].solar_hour[at] == pytest.approx(12.0, abs=0.5)
