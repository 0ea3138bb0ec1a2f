"""Switches: what is out of the ordinary for a pump, judged by the eight weeks before."""

from datetime import UTC, datetime, timedelta

import numpy as np
import polars as pl
import pytest

from pipeline.upsets.switches import switches

FIRST = datetime(2026, 6, 1, tzinfo=UTC)
DAYS = 120
LAST = FIRST + timedelta(days=DAYS)


def pump(make, on):
    """A pump's state every quarter of an hour."""
    times = make.grid(FIRST, DAYS)
    frame = make.frame(times, np.asarray(on, float))
    tag = make.tag(
        tag="YS-1",
        measures="state",
        unit="1",
        low=0,
        high=1,
        resolution=1,
        instrument="",
        states="0=Off|1=On",
    )
    return make.case(frame, tag=tag)


@pytest.fixture
def daily():
    """On from six to eight every day."""
    hour = np.tile(np.arange(96) / 4, DAYS)
    return (hour >= 6) & (hour < 8)


def found(case, days_back=7):
    return switches([case], LAST - timedelta(days=days_back), LAST)


def test_what_happens_every_day_is_in_order(make, daily):
    every = found(pump(make, daily))
    assert len(every) == 14
    assert not any(one.is_rare for one in every)
    assert {(one.before, one.after) for one in every} == {("off", "on"), ("on", "off")}


def test_a_start_at_another_time_of_day_is_not(make, daily):
    daily[-96 * 3 + 60 : -96 * 3 + 66] = True
    rare = [one for one in found(pump(make, daily)) if one.is_rare]
    assert [one.time for one in rare] == [LAST - timedelta(days=3) + timedelta(hours=h) for h in (15, 16.5)]


def test_a_run_longer_than_ever_is_told_from_when_it_should_have_ended(make, daily):
    start = len(daily) - 96 * 3 + 24
    daily[start : start + 40] = True
    late = [one for one in found(pump(make, daily)) if one.overdue_minutes]
    (one,) = [one for one in late if one.after == "on"]
    assert one.time == LAST - timedelta(days=3) + timedelta(hours=8)
    assert one.overdue_minutes == 8 * 60
    assert one.is_twice_the_longest


def test_the_judgement_does_not_hang_on_where_one_begins_to_look(make, daily):
    daily[-96 * 20 :] |= np.tile(np.arange(96) == 60, 20)  # a new habit, three weeks old
    random = np.random.default_rng(1)
    for at in random.integers(0, len(daily) - 50, 30):
        daily[at : at + random.integers(2, 30)] = True
    case = pump(make, daily)
    near, far = found(case, 5), found(case, 40)
    assert near == [one for one in far if one.time >= LAST - timedelta(days=5)]


def test_a_silence_is_no_switch(make, daily):
    case = pump(make, daily)
    quiet = (pl.col("time") >= LAST - timedelta(days=2, hours=19)) & (
        pl.col("time") < LAST - timedelta(days=2)
    )
    object.__setattr__(case, "readings", case.readings.filter(~quiet))
    rare = [one for one in found(case) if one.is_rare and not one.overdue_minutes]
    assert rare == []
