"""States against an oracle that asks minute by minute."""

from datetime import timedelta
from itertools import pairwise

import polars as pl
from hypothesis import given
from hypothesis import strategies as st

from pipeline.baseline.states import Condition, changes, settled, settling, spans, union, within
from pipeline.facts import SPANS
from pipeline.table import TIME

LENGTH = 60
READINGS = st.dictionaries(st.integers(0, LENGTH - 20), st.sampled_from([0.0, 1.0, 2.0]), max_size=12)
INTERVALS = st.lists(
    st.tuples(st.integers(0, LENGTH), st.integers(1, 15)).map(lambda pair: (pair[0], pair[0] + pair[1])),
    max_size=8,
)
HOLDS = st.integers(1, 15)


def _at(make, minute):
    return make.utc(2026, 3, 8, 8) + timedelta(minutes=minute)  # across the night the clocks change


def _signal(make, readings, hold):
    times = sorted(readings)
    frame = {"time": [_at(make, minute) for minute in times], "value": [readings[minute] for minute in times]}
    return pl.DataFrame(frame, schema={"time": TIME, "value": pl.Float64()}), timedelta(minutes=hold)


def _spans(make, intervals):
    ordered = sorted(intervals)
    rows = {"start": [_at(make, a) for a, _ in ordered], "end": [_at(make, b) for _, b in ordered]}
    return pl.DataFrame(rows, schema=SPANS)


def _minutes(make, table):
    """Minutes that the spans cover."""
    origin = _at(make, 0)
    bounds = [
        ((a - origin) // timedelta(minutes=1), (b - origin) // timedelta(minutes=1))
        for a, b in table.iter_rows()
    ]
    return {minute for a, b in bounds for minute in range(a, b)}


def _stands(readings, hold, minute):
    """The value that stands at a minute; None where none does."""
    past = [t for t in readings if t <= minute < t + hold]
    return readings[max(past)] if past else None


def _both(a, b):
    """Kleene's `and`: false wins over unknown."""
    if a is False or b is False:
        return False
    return None if a is None or b is None else True


@given(a=READINGS, b=READINGS, hold_a=HOLDS, hold_b=HOLDS)
def test_spans_are_what_a_minute_by_minute_look_says(make, a, b, hold_a, hold_b):
    condition = Condition((pl.col("A-1") == 1) & (pl.col("B") > 0), ("A-1", "B"))
    signals = {"A-1": _signal(make, a, hold_a), "B": _signal(make, b, hold_b)}
    # A reading holds until the next one, so an older value never shines through a newer one that expired.
    truth = {}
    for minute in range(LENGTH):
        values = _stands(a, hold_a, minute), _stands(b, hold_b, minute)
        truth[minute] = _both(
            *(None if v is None else test(v) for v, test in zip(values, TESTS, strict=True))
        )
    yes, no = spans(condition, signals)
    assert _minutes(make, yes) == {minute for minute, known in truth.items() if known is True}
    assert _minutes(make, no) == {minute for minute, known in truth.items() if known is False}
    for table in (yes, no):
        assert (table["start"] < table["end"]).all()
        assert (table["end"][:-1] < table["start"][1:]).all()


TESTS = (lambda v: v == 1, lambda v: v > 0)


def test_unknown_state_is_in_neither(make):
    """A pump whose state stopped arriving at minute 10 is neither on nor off from minute 15."""
    condition = Condition(pl.col("P") == 1, ("P",))
    signals = {"P": _signal(make, {0: 1.0, 10: 1.0}, 5)}
    assert _minutes(make, spans(condition, signals)[0]) == {0, 1, 2, 3, 4, 10, 11, 12, 13, 14}
    assert spans(condition, signals)[1].height == 0


def test_named_state_inside_a_condition(make):
    inner = {"running": pl.col("P") == 1}
    condition = Condition((pl.col("running") == 1) & (pl.col("F") > 5), ("P", "F"), inner)
    signals = {"P": _signal(make, {0: 1.0, 10: 0.0}, 60), "F": _signal(make, {0: 9.0, 5: 1.0, 8: 9.0}, 60)}
    assert _minutes(make, spans(condition, signals)[0]) == {0, 1, 2, 3, 4, 8, 9}


@given(INTERVALS)
def test_union_covers_the_same_minutes_in_spans_apart(make, intervals):
    joined = union([_spans(make, intervals[::2]), _spans(make, intervals[1::2])])
    assert _minutes(make, joined) == {minute for a, b in intervals for minute in range(a, b)}
    assert (joined["end"][:-1] < joined["start"][1:]).all()
    assert union([joined]).equals(joined)


@given(INTERVALS, st.integers(0, 20))
def test_settled_and_settling_part_a_span(make, intervals, settle):
    apart = union([_spans(make, intervals)])
    delay = timedelta(minutes=settle)
    late, early = settled(apart, delay), settling(apart, delay)
    assert _minutes(make, late) | _minutes(make, early) == _minutes(make, apart)
    assert not _minutes(make, late) & _minutes(make, early)
    starts = [(t - _at(make, 0)) // timedelta(minutes=1) for t in apart["start"]]
    assert all(
        minute not in _minutes(make, late) for start in starts for minute in range(start, start + settle)
    )


@given(INTERVALS)
def test_within_is_start_included_end_not(make, intervals):
    apart = union([_spans(make, intervals)])
    times = pl.Series("t", [_at(make, minute) for minute in range(LENGTH + 16)], dtype=TIME)
    covered = _minutes(make, apart)
    assert within(times, apart).to_list() == [minute in covered for minute in range(LENGTH + 16)]


@given(readings=READINGS, hold=HOLDS)
def test_a_change_is_where_yes_and_no_meet(make, readings, hold):
    condition = Condition(pl.col("S") > 0, ("S",))
    seen = changes(*spans(condition, {"S": _signal(make, readings, hold)}))

    def says(minute):
        value = _stands(readings, hold, minute)
        return None if value is None else value > 0

    answers = [says(minute) for minute in range(-1, 2 * LENGTH)]
    pairs = pairwise(answers)
    met = [at for at, (was, now) in enumerate(pairs) if None not in (was, now) and was != now]
    assert seen.to_list() == [_at(make, minute) for minute in met]
