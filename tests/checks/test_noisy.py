"""Noisy: scatter that grew, measured against what statistics says of independent readings."""

import re

import numpy as np
import pytest


def test_the_ratio_it_names_is_the_one_that_was_made(find, ailed):
    """Scatter s with three times as much added is sqrt(1 + 9) s, for variances of independent noise add up.

    The clip at two means of a day takes the same share of both.
    """
    (finding,) = find("noisy", ailed("noisy"))
    times, now, before = (
        float(part) for part in re.findall(r"([\d.]+) (?:times|instead|\))", _bare(finding))
    )
    assert times == pytest.approx(np.sqrt(10), rel=0.15)
    assert now / before == pytest.approx(times, rel=0.15)


def _bare(finding):
    text = finding.evidence.replace("(", " ").replace(")", " )")
    assert "of its own past" in text
    return text


def test_it_is_a_visit_and_says_what_to_look_at(find, ailed):
    (finding,) = find("noisy", ailed("noisy"))
    assert finding.severity == "watch" and finding.is_open
    assert "bubbles" in finding.check_first


@pytest.mark.parametrize(
    "kind", ["damped", "rescaled by nothing", "coarser", "clock_shift", "pegged", "flat"]
)
def test_other_ailments_are_not_called_noisy(find, ailing, as_known, kind):
    sensor = ailing("" if kind == "rescaled by nothing" else kind)
    assert find("noisy", as_known(sensor)) == []


def test_half_as_much_again_is_the_bar(find, ailed):
    assert find("noisy", ailed("noisy"), times=2.5)
    assert not find("noisy", ailed("noisy"), times=4.0)


@pytest.mark.parametrize("measures", ["level", "pressure", "head_loss", "feed", "volume"])
def test_what_pumps_move_is_not_judged(find, ailing, as_known, make, measures):
    assert find("noisy", as_known(ailing("noisy", tag=make.tag(measures=measures)))) == []


def test_a_thinned_record_says_nothing(find, ailing, as_known, make):
    """A recorder that holds a value until it leaves a deadband shows steps, not scatter."""
    sensor = ailing("noisy")
    held = sensor.value.copy()
    for i in range(1, len(held)):
        if abs(held[i] - held[i - 1]) < 0.15:
            held[i] = held[i - 1]
    sensor.frame = make.frame(sensor.frame["time"], np.round(held, 2))
    case = as_known(sensor)
    assert (np.diff(case.readings["value"].to_numpy()[:9000]) == 0).mean() > 0.6
    assert find("noisy", case) == [] and find("damped", case) == []


def test_a_slow_change_with_the_season_is_not_sudden(find, ailing, as_known, make):
    """Scatter that grows by half over three months, before any year has been seen."""
    sensor = ailing()
    random = np.random.default_rng(3)
    day = np.arange(len(sensor.value)) / 96
    more = 1.0 * np.clip((day - 90) / 90, 0.0, 1.0)
    value = sensor.value + more * 0.03 * random.standard_normal(len(day))
    sensor.frame = make.frame(sensor.frame["time"], np.round(value, 2))
    assert find("noisy", as_known(sensor)) == []


def test_another_instrument_scatters_otherwise(find, ailing, as_known, make):
    """With a replacement in the logbook on the day it began it is no news; with a calibration it is."""
    sensor = ailing("noisy")
    (finding,) = find("noisy", as_known(sensor))
    for kind, found in (("calibration", 1), ("replacement", 0)):
        sensor.services = make.services([finding.start], kind)
        assert len(find("noisy", as_known(sensor))) == found


@pytest.mark.parametrize(("times", "told"), [(1.0, False), (5.0, True)])
def test_what_coarser_steps_round_up_and_down_is_no_scatter(find, ailing, as_known, make, times, told):
    """A temperature in steps of 1 degree from one day on; noise of as much is seen on such a display, too."""
    sensor = ailing(scatter=0.15, tag=make.tag(measures="temperature", unit="degC", high=40.0))
    random, part = np.random.default_rng(5), slice(120 * 96, None)
    more = sensor.value + 0.15 * (times**2 - 1) ** 0.5 * random.standard_normal(len(sensor.value))
    value = np.round(sensor.value, 1)
    value[part] = np.round(more[part])
    sensor.frame = make.frame(sensor.frame["time"], value)
    assert bool(find("noisy", as_known(sensor))) == told
