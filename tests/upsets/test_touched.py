"""Touched: an excursion is known once it has lasted long enough, and not a reading sooner."""

from dataclasses import replace
from datetime import timedelta

import polars as pl
import pytest

from pipeline.clock import week_named
from pipeline.upsets.touched import touched
from tests.upsets import scenes
from tests.upsets.scenes import WEEK, staged


@pytest.fixture(scope="module")
def scene():
    return staged(scenes.main_break)


def of_the_tank(scene, cut=None, **changes):
    cases = scene.cases
    if cut:
        known = pl.col("time") < cut
        cases = {
            name: replace(case, readings=case.readings.filter(known), as_of=cut)
            for name, case in cases.items()
        }
    limits = {"TANK-301": scene.plant.limits["TANK-301"].model_copy(update=changes)}
    return touched(limits, cases, week_named(WEEK, scene.plant.zone))


def test_it_is_known_when_its_least_minutes_are_over(scene):
    ((excursion, crossed),) = of_the_tank(scene)
    assert crossed - excursion.start == timedelta(minutes=scene.plant.limits["TANK-301"].min_minutes)


def test_with_the_record_cut_before_it_is_known_it_is_not_there(scene):
    ((excursion, crossed),) = of_the_tank(scene)
    assert of_the_tank(scene, crossed - timedelta(minutes=1)) == []
    ((early, when),) = of_the_tank(scene, crossed + timedelta(minutes=1))
    assert (early.start, when) == (excursion.start, crossed)


@pytest.mark.parametrize(
    ("changes", "minutes"),
    [
        ({"statistic": "longest_excursion", "allow": 20.0}, 20),
        ({"statistic": "two_consecutive"}, 15),  # 40 CFR 141.175(b): records 15 minutes apart
    ],
)
def test_limits_on_time_outside_and_on_records_on_end_are_asked_too(scene, changes, minutes):
    found = of_the_tank(scene, **changes)
    assert found and all(
        timedelta(0) <= crossed - one.start - timedelta(minutes=minutes) < timedelta(minutes=15)
        for one, crossed in found
    )
    assert of_the_tank(scene, statistic="longest_excursion", allow=60.0) == []


def test_only_limits_with_a_beginning_are_asked(scene):
    daily = {name: one for name, one in scene.plant.limits.items() if one.statistic == "daily_mean"}
    assert daily
    assert touched(daily, scene.cases, week_named(WEEK, scene.plant.zone)) == []
