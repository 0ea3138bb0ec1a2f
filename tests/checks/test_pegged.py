"""Pegged: at an end of the span, or cut off at a value inside it."""

from datetime import timedelta

import numpy as np
import pytest


def _held(make, sensor, spells, value, step=0):
    shown = sensor.value.copy()
    for begin, count in spells:
        shown[begin : begin + count] = value
    sensor.frame = make.frame(sensor.frame["time"], np.round(shown, 2))
    return sensor


def test_an_hour_at_the_end_is_told_and_less_is_not(find, ailing, as_known, make):
    begin = 96 * 120
    (finding,) = find("pegged", as_known(_held(make, ailing(), [(begin, 4)], 14.0)))
    assert finding.end - finding.start == timedelta(hours=1)
    assert finding.severity == "watch" and "high end of its span, pH 14.00, for 1 h" in finding.evidence
    assert find("pegged", as_known(_held(make, ailing(), [(begin, 3)], 14.0))) == []


def test_what_lasts_is_for_acting_on(find, ailing, as_known):
    (finding,) = find("pegged", as_known(ailing("pegged")))
    assert finding.severity == "act" and finding.is_open


def test_one_resolution_off_the_end_is_at_the_end(find, ailing, as_known, make):
    assert find("pegged", as_known(_held(make, ailing(), [(96 * 120, 8)], 0.01)))
    assert not find("pegged", as_known(_held(make, ailing(), [(96 * 120, 8)], 0.02)))


def test_resting_at_zero_by_habit_is_nothing(find, ailing, as_known, make):
    """A flow stands at zero every night; a whole day at zero is then news, a longer night is not."""
    nights = [(96 * day, 20) for day in range(1, 199)]
    assert find("pegged", as_known(_held(make, ailing(), nights, 0.0))) == []
    longer = [*nights, (96 * 150, 36)]
    assert find("pegged", as_known(_held(make, ailing(), longer, 0.0))) == []
    (finding,) = find("pegged", as_known(_held(make, ailing(), [*nights, (96 * 150, 90)], 0.0)))
    assert "low end" in finding.evidence


def test_stands_within_two_weeks_are_one_finding(find, ailing, as_known, make):
    spells = [(96 * 120, 8), (96 * 130, 8), (96 * 160, 8)]
    found = find("pegged", as_known(_held(make, ailing(), spells, 14.0)))
    assert len(found) == 2 and "in 2 stretches" in found[0].evidence


def test_a_ceiling_inside_the_span_is_seen(find, ailing, as_known):
    """Readings above 7.5 all shown as 7.50: a span of the recorder's channel that is too small."""
    (finding,) = find("pegged", as_known(ailing("cut off")))
    assert "highest reading, pH 7.50" in finding.evidence and finding.severity == "watch"


@pytest.mark.parametrize("resolution", [0.01, 0.1])
def test_the_crest_of_the_day_is_no_ceiling(find, ailing, as_known, make, resolution):
    """Coarse readings repeat themselves at the crest, and everywhere else."""
    sensor = ailing(scatter=0.005, tag=make.tag(resolution=resolution))
    value = np.round(sensor.value / resolution) * resolution
    sensor.frame = make.frame(sensor.frame["time"], np.round(value, 2))
    assert find("pegged", as_known(sensor)) == []


def test_a_display_too_coarse_for_the_signal_has_no_floor(find, ailing, as_known, make):
    """In steps of 0.05: two calm weeks just above one of them show it again and again, and hardly another."""
    sensor = ailing(tag=make.tag(resolution=0.05))
    n, random = len(sensor.value), np.random.default_rng(3)
    calm = (np.arange(n) // 96 >= 150) & (np.arange(n) // 96 < 164)
    value = np.where(calm, 7.4 + 0.02 * np.abs(random.standard_normal(n)), sensor.value)
    sensor.frame = make.frame(sensor.frame["time"], np.round(np.round(value / 0.05) * 0.05, 2))
    assert find("pegged", as_known(sensor)) == []
