"""Episodes against hand-worked examples and an oracle that walks minute by minute."""

from dataclasses import asdict
from datetime import timedelta
from itertools import pairwise

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.episodes import Held, episodes, held, minutes_beyond
from pipeline.facts import SPANS
from pipeline.table import TIME

LENGTH = 120
LIMIT = 1.0

READINGS = st.dictionaries(
    st.integers(0, LENGTH - 1), st.sampled_from([0.5, 0.9, 1.0, 1.1, 1.5, 2.0, None]), max_size=30
)
MASKS = st.lists(st.tuples(st.integers(0, LENGTH - 10), st.integers(1, 10)), max_size=3)
RULES = st.fixed_dictionaries(
    {
        "deadband": st.sampled_from([0.0, 0.05, 0.2]),
        "min_minutes": st.sampled_from([0, 3, 10]),
        "merge_minutes": st.sampled_from([0, 2, 7, 30]),
    }
)
HOLDS = st.integers(1, 20)
NO_RULES = {"deadband": 0.0, "min_minutes": 0.0, "merge_minutes": 0.0}


def _at(make, minute):
    return make.utc(2026, 11, 1, 6) + timedelta(minutes=minute)


def _record(make, readings, hold=15, masks=(), end=LENGTH):
    rows = [{"time": _at(make, m), "value": v, "good": v is not None} for m, v in sorted(readings.items())]
    frame = pl.DataFrame(rows, schema={"time": TIME, "value": pl.Float64(), "good": pl.Boolean()})
    apart = pl.DataFrame(
        [{"start": _at(make, a), "end": _at(make, b)} for a, b in _apart(masks)], schema=SPANS
    )
    return held(frame, apart, timedelta(minutes=hold), _at(make, 0), _at(make, end))


def _apart(masks):
    covered = sorted({minute for a, n in masks for minute in range(a, a + n)})
    cuts = [i for i, (a, b) in enumerate(pairwise(covered), start=1) if b > a + 1]
    parts = [covered[a:b] for a, b in pairwise([0, *cuts, len(covered)])] if covered else []
    return [(part[0], part[-1] + 1) for part in parts]


def _axis(readings, hold, masks):
    """(minute, value or None) for every minute that is not masked."""
    off = {minute for a, n in masks for minute in range(a, a + n)}
    axis = []
    for minute in range(LENGTH):
        stamps = [m for m in readings if m <= minute]
        value = readings[max(stamps)] if stamps and minute < max(stamps) + hold else None
        if minute not in off:
            axis.append((minute, value))
    return axis


def _oracle(axis, side, deadband, min_minutes, merge_minutes):
    """The definition, read out minute by minute; nothing shared with the package."""
    beyond = [None if value is None else side * (value - LIMIT) for _, value in axis]
    found, i = [], 0
    while i < len(axis):
        if beyond[i] is None or beyond[i] <= 0:
            i += 1
            continue
        first = last = i
        blind = 0
        while i < len(axis) and blind <= merge_minutes and (beyond[i] is None or beyond[i] > -deadband):
            blind = blind + 1 if beyond[i] is None else blind
            if beyond[i] is not None and beyond[i] > 0:
                last, blind = i, 0
            i += 1
        lost = blind > merge_minutes or (i == len(axis) and (beyond[-1] is None or beyond[-1] > 0))
        found.append([first, last, first == 0 or beyond[first - 1] is None, lost])
    merged = []
    for episode in found:
        gap = beyond[merged[-1][1] + 1 : episode[0]] if merged else []
        blind = sum(b is None for b in gap)
        if merged and len(gap) - blind < merge_minutes and blind <= merge_minutes:
            merged[-1][1], merged[-1][3] = episode[1], episode[3]
        else:
            merged.append(episode)
    return [row for row in (_measured(axis, beyond, *e) for e in merged) if row["minutes"] >= min_minutes]


def _measured(axis, beyond, first, last, open_start, open_end):
    part = range(first, last + 1)
    outside = [i for i in part if beyond[i] is not None and beyond[i] > 0]
    worst = max(outside, key=lambda i: beyond[i])
    return {
        "start": axis[first][0],
        "end": axis[last][0] + 1,
        "minutes": len(outside),
        "area": sum(beyond[i] for i in outside),
        "worst": axis[worst][1],
        "worst_at": axis[worst][0],
        "minutes_unknown": sum(beyond[i] is None for i in part),
        "open_start": open_start,
        "open_end": open_end,
    }


def _as_rows(make, found):
    origin = _at(make, 0).timestamp() * 1e6
    rows = [asdict(episode) for episode in found]
    for row in rows:
        row.update({name: (row[name] - origin) / 60e6 for name in ("start", "end", "worst_at")})
    return rows


@given(readings=READINGS, hold=HOLDS, masks=MASKS, side=st.sampled_from([1, -1]), rules=RULES)
def test_episodes_are_what_the_definition_says(make, readings, hold, masks, side, rules):
    found = _as_rows(make, episodes(_record(make, readings, hold, masks), LIMIT, side, **rules))
    expected = _oracle(_axis(readings, hold, masks), side, **rules)
    assert found == [pytest.approx(row, abs=1e-9) for row in expected]


@given(readings=READINGS, hold=HOLDS, masks=MASKS, side=st.sampled_from([1, -1]))
def test_minutes_and_area_add_up_to_the_exact_integral(make, readings, hold, masks, side):
    record = _record(make, readings, hold, masks)
    beyond = [side * (v - LIMIT) for _, v in _axis(readings, hold, masks) if v is not None]
    found = episodes(record, LIMIT, side)
    assert sum(e.minutes for e in found) == pytest.approx(sum(b > 0 for b in beyond), abs=1e-6)
    assert sum(e.area for e in found) == pytest.approx(sum(b for b in beyond if b > 0), abs=1e-6)
    assert minutes_beyond(record, LIMIT, side) == pytest.approx(sum(b > 0 for b in beyond), abs=1e-6)
    known = sum(v is not None for _, v in _axis(readings, hold, masks))
    assert (record.known_minutes, record.minutes) == (known, len(_axis(readings, hold, masks)))


@given(readings=READINGS, hold=HOLDS, masks=MASKS, rules=RULES)
def test_episodes_lie_apart_in_order(make, readings, hold, masks, rules):
    found = episodes(_record(make, readings, hold, masks), LIMIT, 1, **rules)
    assert all(before.end < after.start for before, after in pairwise(found))
    assert all(e.minutes + e.minutes_unknown <= (e.end - e.start) / 60e6 + 1e-9 for e in found)
    assert all(e.start <= e.worst_at < e.end and e.worst > LIMIT for e in found)


@given(readings=READINGS, hold=HOLDS, masks=MASKS, rules=RULES)
def test_below_a_low_limit_mirrors_above_a_high_one(make, readings, hold, masks, rules):
    mirrored = {m: None if v is None else 2 * LIMIT - v for m, v in readings.items()}
    up = _as_rows(make, episodes(_record(make, readings, hold, masks), LIMIT, 1, **rules))
    down = _as_rows(make, episodes(_record(make, mirrored, hold, masks), LIMIT, -1, **rules))
    for row in down:
        row["worst"] = 2 * LIMIT - row["worst"]
    assert down == [pytest.approx(row, abs=1e-9) for row in up]


@given(readings=READINGS, hold=HOLDS, masks=MASKS, rules=RULES, minutes=st.sets(st.integers(0, LENGTH - 1)))
def test_stamping_a_standing_value_again_changes_nothing(make, readings, hold, masks, rules, minutes):
    """Where the next reading comes before the hold is over, a repeat in between says nothing new."""
    again = dict(readings)
    for before, after in pairwise(sorted(readings)):
        if after - before <= hold:
            again.update({m: readings[before] for m in minutes if before < m < after})
    first, second = (episodes(_record(make, r, hold, masks), LIMIT, 1, **rules) for r in (readings, again))
    assert _as_rows(make, second) == [pytest.approx(row, abs=1e-9) for row in _as_rows(make, first)]


@given(readings=READINGS, hold=HOLDS, masks=MASKS, by=st.floats(0, 1))
def test_a_lower_limit_never_means_fewer_minutes(make, readings, hold, masks, by):
    record = _record(make, readings, hold, masks)
    at, lower = (sum(e.minutes for e in episodes(record, limit, 1)) for limit in (LIMIT, LIMIT - by))
    assert lower >= at - 1e-9


@given(readings=READINGS, hold=HOLDS, masks=MASKS, merge=st.sampled_from([2, 7, 30]))
def test_merging_leaves_nothing_to_merge(make, readings, hold, masks, merge):
    record = _record(make, readings, hold, masks)
    found = episodes(record, LIMIT, 1, merge_minutes=merge)
    for before, after in pairwise(found):
        between = record.between(*(_at(make, row) for row in _gap(make, before, after)))
        blind = between.minutes - between.known_minutes
        assert between.known_minutes >= merge or blind > merge


def _gap(make, before, after):
    rows = _as_rows(make, [before, after])
    return rows[0]["end"], rows[1]["start"]


@given(
    readings=READINGS,
    hold=HOLDS,
    masks=MASKS,
    cuts=st.lists(st.integers(1, LENGTH - 1), max_size=3, unique=True),
)
def test_clocks_add_up_across_any_cut(make, readings, hold, masks, cuts):
    record = _record(make, readings, hold, masks)
    edges = [0, *sorted(cuts), LENGTH]
    parts = [record.between(_at(make, a), _at(make, b)) for a, b in pairwise(edges)]
    assert sum(minutes_beyond(p, LIMIT, 1) for p in parts) == pytest.approx(minutes_beyond(record, LIMIT, 1))
    assert sum(p.known_minutes for p in parts) == pytest.approx(record.known_minutes)


@pytest.mark.parametrize(("month", "day", "hours"), [(3, 8, 23), (11, 1, 25), (7, 1, 24)])
def test_a_day_outside_has_the_minutes_the_day_has(make, month, day, hours):
    """8 March and 1 November 2026 have 23 and 25 hours in Denver (tz database)."""
    start = make.local(2026, month, day)
    times = make.grid(start - timedelta(days=1), 4)
    frame = make.frame(times, [2.0] * len(times))
    none = pl.DataFrame(schema=SPANS)
    record = held(frame, none, timedelta(minutes=30), times[0], times[-1] + timedelta(minutes=15))
    midnight = make.local(2026, month, day + 1)
    assert minutes_beyond(record.between(start, midnight), LIMIT, 1) == hours * 60
    before, after = (
        record.between(times[0], start),
        record.between(midnight, times[-1] + timedelta(minutes=15)),
    )
    total = sum(minutes_beyond(part, LIMIT, 1) for part in (before, record.between(start, midnight), after))
    assert total == episodes(record, LIMIT, 1)[0].minutes == 4 * 1440


def _quarter_hours(*values):
    return {15 * k: value for k, value in enumerate(values)}


def _found(make, readings, masks=(), hold=30, **rules):
    return _as_rows(make, episodes(_record(make, readings, hold, masks), LIMIT, 1, **rules))


def test_two_quarter_hours_outside_are_thirty_minutes(make):
    """Out at 10:00 and 10:15, back at 10:30."""
    (found,) = _found(make, _quarter_hours(0.5, 1.2, 1.6, 0.5, 0.5))
    assert (found["start"], found["end"], found["minutes"]) == (15, 45, 30)
    assert found["area"] == pytest.approx(0.2 * 15 + 0.6 * 15)
    assert (found["worst"], found["worst_at"]) == (1.6, 30)
    assert not found["open_start"] and not found["open_end"]


def test_exactly_at_the_limit_is_inside(make):
    assert _found(make, _quarter_hours(1.0, 1.0, 1.0)) == []


def test_the_dead_band_keeps_an_episode_open_but_is_not_counted(make):
    """Out 15 min, 15 min a hair inside, out 15 min: one episode of 30 min that ends with the last of them."""
    readings = _quarter_hours(0.5, 1.2, 0.95, 1.2, 0.95, 0.5)
    (found,) = _found(make, readings, deadband=0.1)
    assert (found["start"], found["end"], found["minutes"]) == (15, 60, 30)
    assert len(_found(make, readings, deadband=0.05)) == 2, "back inside by the whole dead band is over"


def test_back_inside_by_exactly_the_dead_band_is_over(make):
    readings = _quarter_hours(0.5, 1.25, 0.75, 1.25, 0.5)  # quarters have no rounding
    assert len(_found(make, readings, deadband=0.25)) == 2
    assert len(_found(make, readings, deadband=0.26)) == 1


def test_merge_comes_before_the_shortest(make):
    """Two of 15 min with 15 min between are one of 30 min where 20 are merged and 30 are the least."""
    readings = _quarter_hours(0.5, 1.2, 0.5, 1.2, 0.5, 0.5)
    assert [e["minutes"] for e in _found(make, readings, min_minutes=30, merge_minutes=20)] == [30]
    assert _found(make, readings, min_minutes=30, merge_minutes=15) == [], "as long as allowed does not merge"
    assert len(_found(make, readings, min_minutes=15)) == 2


def test_unknown_time_is_bridged_up_to_the_merge_and_never_counted(make):
    readings = {0: 0.5, 15: 1.2, 65: 1.2, 80: 0.5, 95: 0.5}  # nothing from 45 (hold 30) to 65
    (bridged,) = _found(make, readings, merge_minutes=20)
    assert (bridged["minutes"], bridged["minutes_unknown"], bridged["open_end"]) == (45, 20, False)
    first, second = _found(make, readings, merge_minutes=19)
    assert (first["end"], first["open_end"]) == (45, True)
    assert (second["start"], second["open_start"]) == (65, True)


def test_a_bad_reading_ends_what_stood_before_it(make):
    (found,) = _found(make, {0: 0.5, 15: 1.2, 20: None, 60: 0.5})
    assert (found["minutes"], found["open_end"]) == (5, True)


def test_masked_time_neither_counts_nor_parts(make):
    readings = _quarter_hours(0.5, 1.2, 1.2, 1.2, 1.2, 0.5, 0.5)
    (found,) = _found(make, readings, masks=[(30, 10), (40, 5)])
    assert (found["start"], found["end"], found["minutes"], found["minutes_unknown"]) == (15, 75, 45, 0)


def test_the_edges_of_the_record_leave_an_episode_open(make):
    (found,) = _found(make, _quarter_hours(*[1.2] * 8))
    assert found["open_start"] and found["open_end"] and found["minutes"] == 120


def test_a_record_that_falls_silent_outside_leaves_it_open_however_short_the_silence(make):
    (found,) = _found(make, {0: 0.5, 15: 1.2, 85: 1.2}, hold=30, merge_minutes=60)  # silent from 115 to 120
    assert (found["end"], found["minutes"], found["open_end"]) == (115, 60, True)


def test_nothing_known_is_no_episode(make):
    record = _record(make, {})
    assert isinstance(record, Held)
    assert episodes(record, LIMIT, 1) == []
    assert (record.known_minutes, record.minutes) == (0, LENGTH)
