"""Group: what belongs together, and an id that no later day changes."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.config.limits import Limit
from pipeline.result import Excursion
from pipeline.upsets.group import FEWEST_MOVERS, JOIN, Event, upsets
from pipeline.upsets.path import Path

NOON = datetime(2026, 11, 12, 12, tzinfo=UTC)
AREAS = ("intake", "filters", "clearwell")
HOUR = timedelta(hours=1)


def event(tag="AIT-1", area="filters", start=0.0, hours=1.0, known=0.25, plant="water"):
    at = NOON + start * HOUR
    return Event(tag, area, plant, at, at + hours * HOUR, at + known * HOUR, 8.0, at)


def outside(severity="act", **more):
    made = event(**more)
    limit = Limit(row=2, limit_id="L", tag=made.tag, high=1.0, severity=severity)
    length = (made.end - made.start) / timedelta(minutes=1)
    found = Excursion(limit, made.start, made.end, length, 2.0, made.start, 1.0, "NTU")
    return replace(made, excursion=found, peak=0.0)


def test_three_tags_that_move_together_are_an_upset_and_two_are_none():
    three = [event(f"AIT-{k}", start=k / 4) for k in range(FEWEST_MOVERS)]
    (one,) = upsets(three)
    assert one.upset_id == "filters.2026-11-12T1200Z"
    assert one.tags == ["AIT-0", "AIT-1", "AIT-2"]
    assert upsets(three[:2]) == []


def test_one_excursion_is_an_upset_and_gives_it_its_severity():
    assert [one.severity for one in upsets([outside("watch")])] == ["watch"]
    assert [one.severity for one in upsets([outside("watch"), outside("act", start=0.5)])] == ["act"]


def test_one_move_is_an_upset_where_something_was_switched():
    switch = replace(event("YS-1", start=0.5), is_switch=True)
    assert len(upsets([event(), switch])) == 1
    assert upsets([event(), replace(switch, area="intake")]) == []
    assert upsets([switch]) == []


def test_a_state_that_stands_twice_as_long_is_an_upset_alone():
    switch = replace(event("YS-1"), is_switch=True, stands_alone=True)
    assert upsets([switch])[0].tags == ["YS-1"]


def test_what_comes_hours_after_all_was_over_is_another_upset():
    late = JOIN / HOUR + 1.5
    first = outside(hours=1.0)
    assert len(upsets([first, outside(start=late)])) == 2
    assert len(upsets([first, outside(start=late - 1.0)])) == 1


def test_water_on_its_way_may_take_longer():
    path = Path(dict.fromkeys(AREAS, "water"), AREAS, {("filters", "clearwell"): 120.0})
    late = outside(area="clearwell", start=JOIN / HOUR + 2.5)
    assert len(upsets([outside(), late])) == 2
    assert len(upsets([outside(), late], path)) == 1


def test_water_and_wastewater_never_meet():
    assert len(upsets([outside(), outside(area="lift", plant="wastewater")])) == 2


@given(st.integers(0, 100_000))
def test_later_events_change_no_earlier_id(seed):
    random = np.random.default_rng(seed)
    every = []
    for number in range(random.integers(1, 25)):
        make = outside if random.random() < 0.4 else event
        start = float(random.uniform(0, 60))
        made = make(
            tag=f"AIT-{random.integers(6)}", area=str(random.choice(AREAS)), start=start,
            hours=float(random.uniform(0.3, 20)), known=float(random.uniform(0, 2)),
        )  # fmt: skip
        if random.random() < 0.2:
            made = replace(made, excursion=None, is_switch=True, stands_alone=bool(number % 2))
        every.append(made)
    whole = {one.upset_id for one in upsets(every)}
    for now in sorted(one.crossed for one in every):
        # An end that lies ahead is not known yet: it is then where the record ends.
        known = [replace(one, end=min(one.end, now)) for one in every if one.crossed <= now]
        assert {one.upset_id for one in upsets(known)} <= whole


def test_an_upset_keeps_its_id_while_it_grows():
    events = [outside(start=k * 2.0, hours=1.5) for k in range(8)]
    assert {upsets(events[: k + 1])[0].upset_id for k in range(8)} == {"filters.2026-11-12T1200Z"}


@pytest.mark.parametrize("count, severity", [(3, "note"), (5, "watch")])
def test_moves_alone_are_for_the_record_unless_they_are_many(count, severity):
    (one,) = upsets([event(f"AIT-{k}") for k in range(count)])
    assert one.severity == severity
