"""Furthest: what is said to stand furthest out is what the record holds, in steps of any length."""

from dataclasses import replace
from datetime import timedelta

import polars as pl
import pytest

from pipeline.clock import week_named
from pipeline.config.limits import Limit
from pipeline.investigate import happened, look_into
from pipeline.result import Excursion
from pipeline.upsets.account import furthest, usual_at
from pipeline.upsets.group import Event, Upset
from tests.upsets import scenes
from tests.upsets.scenes import WEEK, staged


@pytest.fixture(scope="module")
def inquiry():
    scene = staged(scenes.main_break)
    (upset,) = happened(scene, week_named(WEEK, scene.plant.zone))
    return look_into(scene, upset, ())


def faster(inquiry, mover):
    """The same record every 5 minutes: the quarter hour of the peak begins as usual and ends far out."""
    case = inquiry.cases[mover.tag]
    usual = usual_at(inquiry, mover.tag, mover.peak_at)
    (far,) = case.readings.filter(pl.col("time") == mover.peak_at)["value"]
    row = case.readings.filter(pl.col("time") == mover.peak_at)
    times = [mover.peak_at + timedelta(minutes=5 * k) for k in range(3)]
    rows = pl.concat([row.with_columns(time=pl.lit(time, row["time"].dtype)) for time in times])
    rows = rows.with_columns(value=pl.Series([usual, far, 0.5 * (usual + far)]))
    readings = pl.concat([case.readings.filter(pl.col("time") != mover.peak_at), rows]).sort("time")
    cases = {**inquiry.cases, mover.tag: replace(case, readings=readings)}
    return replace(inquiry, cases=cases), times[1], far


def test_it_is_not_the_first_reading_of_the_quarter_hour(inquiry):
    for mover in inquiry.order.movers:
        if not mover.crossed or abs(mover.size) > 12.6:
            continue
        made, when, far = faster(inquiry, mover)
        assert furthest(made, mover) == (when, pytest.approx(far))


def test_beyond_what_departures_are_kept_to_the_whole_upset_is_asked(inquiry):
    mover = next(one for one in inquiry.order.movers if one.crossed and one.tag in inquiry.usual)
    case, sign = inquiry.cases[mover.tag], 1.0 if mover.size > 0 else -1.0
    later = mover.peak_at + timedelta(minutes=30)
    assert later < inquiry.upset.end
    way = case.readings["value"].max() if sign > 0 else case.readings["value"].min()
    extreme = pl.when(pl.col("time") == later).then(way + sign * 5.0).otherwise("value")
    usable = pl.when(pl.col("time") == later).then(True).otherwise("usable")
    readings = case.readings.with_columns(value=extreme, usable=usable)
    made = replace(inquiry, cases={**inquiry.cases, mover.tag: replace(case, readings=readings)})
    assert furthest(made, replace(mover, size=sign * 12.7)) == (later, pytest.approx(way + sign * 5.0))


def test_what_only_readings_of_uncertain_quality_tell_is_taken_from_the_excursion(inquiry):
    """No departure knows of a reading of uncertain quality; the exceedance it makes is told all the same."""
    mover = next(one for one in inquiry.order.movers if one.crossed)
    case, worst_at = inquiry.cases[mover.tag], mover.onset + timedelta(minutes=15)
    limit = Limit(row=2, limit_id="L", tag=mover.tag, high=1.0)
    told = Excursion(limit, mover.onset, mover.peak_at, 60.0, 99.0, worst_at, 1.0, case.tag.unit)
    event = Event(
        mover.tag, mover.area, "water", mover.onset, mover.peak_at, mover.peak_at, 0.0, worst_at, told
    )
    marked = replace(case, uncertain=pl.Series("time", [worst_at], case.readings["time"].dtype))
    beside = replace(inquiry, upset=Upset([*inquiry.upset.events, event]))
    assert furthest(beside, mover) == furthest(inquiry, mover)
    made = replace(beside, cases={**inquiry.cases, mover.tag: marked})
    assert furthest(made, mover) == (worst_at, 99.0)
