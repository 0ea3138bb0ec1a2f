"""Clock shift: hours by which the daily course moved, and hours that the law moves."""

import re

import numpy as np
import pytest

LONG = {"days": 340, "day": 290}


def _shifted(make, sensor, hours, day=290):
    value = sensor.value.copy()
    value[day * 96 :] = np.roll(sensor.value, round(hours * 4))[day * 96 :]
    sensor.frame = make.frame(sensor.frame["time"], np.round(value, 2))
    return sensor


@pytest.mark.parametrize(("hours", "words"), [(1, "1 h later"), (-1, "1 h earlier"), (2, "2 h later")])
def test_the_shift_is_named_to_half_an_hour(find, ailing, as_known, make, hours, words):
    (finding,) = find("clock_shift", as_known(_shifted(make, ailing(days=340), hours)))
    told = re.search(r"about (?:(\d+) h ?)?(?:(\d+) min )?(later|earlier)", finding.evidence)
    minutes = 60 * int(told[1] or 0) + int(told[2] or 0)
    assert abs(minutes - abs(60 * hours)) <= 30 and told[3] == words.split()[-1]
    assert finding.severity == "note" and finding.is_open


def test_nothing_is_said_before_a_summer_has_begun_or_ended(find, ailing, as_known, make):
    """In 250 days the wall clock changes at least once (US: 238 days of summer time, 127 of standard)."""
    sensor = _shifted(make, ailing(days=240), 2, day=200)
    assert find("clock_shift", as_known(sensor)) == []


def test_what_follows_the_sun_moves_by_an_hour_with_the_wall_clock(find, ailing, as_known, make):
    """Summer time ends on 1 November 2026 (first Sunday of November, 15 USC 260a): no fault."""
    sensor = ailing(days=380)
    random = np.random.default_rng(2)
    sun = np.arange(len(sensor.value)) % 96
    value = 7.4 + 0.3 * np.cos(2 * np.pi * sun / 96) + 0.03 * random.standard_normal(len(sun))
    sensor.frame = make.frame(sensor.frame["time"], np.round(value, 2))
    assert find("clock_shift", as_known(sensor)) == []


def test_a_flatter_day_is_not_a_late_one(find, ailing, as_known, make):
    sensor = ailing(days=340)
    mean = sensor.value.mean()
    value = sensor.value.copy()
    value[290 * 96 :] = mean + 0.4 * (value[290 * 96 :] - mean)
    sensor.frame = make.frame(sensor.frame["time"], np.round(value, 2))
    assert find("clock_shift", as_known(sensor)) == []


def test_without_a_daily_rhythm_there_is_nothing_to_be_late(find, ailing, as_known, make):
    sensor = ailing(days=340)
    random = np.random.default_rng(4)
    sensor.value = 7.4 + make.noise(random, len(sensor.value), 0.99, 0.05)
    assert find("clock_shift", as_known(_shifted(make, sensor, 2))) == []
