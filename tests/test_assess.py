"""Assess: which side is out, how near is near, and what a limit may take as known."""

from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from pipeline.assess import excursions, minutes_in, worst_in
from pipeline.clock import period_between
from pipeline.margin import is_near, margin, sides, status
from pipeline.record import record

NUMBERS = st.floats(-100, 100)


@given(NUMBERS, NUMBERS, NUMBERS)
def test_margin_is_the_distance_to_the_nearer_side(make, one, other, value):
    assume(one != other)
    low, high = sorted((one, other))
    both, above, below = make.limit(low=low, high=high), make.limit(high=high), make.limit(low=low)
    assert margin(above, value) == high - value
    assert margin(below, value) == value - low
    assert margin(both, value) == min(high - value, value - low)
    assert (margin(both, value) < 0) == (value > high or value < low)
    assert sides(both) == [(high, 1), (low, -1)]


@given(st.floats(0.1, 100), st.floats(0, 2))
def test_near_mirrors(make, number, share):
    assert is_near(make.limit(high=number), number * share, "NTU") == is_near(
        make.limit(low=-number), -number * share, "NTU"
    )


@given(st.floats(1, 99), st.floats(0, 100))
def test_near_a_share_is_near_its_complement(make, number, value):
    """85 % removed at least is 15 % left at most (40 CFR 133.102(a)(3) and its complement)."""
    least, most = make.limit(low=number), make.limit(high=100.0 - number)
    assume(abs(abs(value - number) - 0.1 * min(number, 100 - number)) > 1e-9)
    assert is_near(least, value, "%") == is_near(most, 100.0 - value, "%")


@pytest.mark.parametrize(
    ("side", "number", "value", "is_so"),
    [
        ("low", 85.0, 86.4, True),
        ("low", 85.0, 86.6, False),
        ("low", 15.0, 16.4, True),
        ("low", 15.0, 16.6, False),
        ("high", 110.0, 99.1, True),  # of saturation: nothing ends at 100
        ("high", 110.0, 98.9, False),
    ],
)
def test_near_in_percent_is_a_tenth_of_the_smaller_share(make, side, number, value, is_so):
    assert is_near(make.limit(**{side: number}), value, "%") == is_so


@pytest.mark.parametrize(
    ("value", "is_outside", "coverage", "word"),
    [
        (0.1, False, 100.0, "within"),
        (0.29, False, 100.0, "near"),
        (0.1, False, 75.0, "within"),
        (0.1, False, 74.9, "not assessable"),
        (None, False, 100.0, "not assessable"),
        (0.4, True, 100.0, "outside"),
        (0.4, True, 1.0, "outside"),
    ],
)
def test_words(make, value, is_outside, coverage, word):
    assert status(make.limit(high=0.3), value, is_outside, coverage, "NTU") == word


@pytest.fixture(scope="module")
def spells(make):
    """Ten days about 0.07 with six hours at 0.4 across every second midnight."""
    times = make.grid(make.local(2026, 7, 1), 10)
    value = 0.07 + np.abs(np.random.default_rng(1).normal(0, 0.02, len(times)))
    for day in (2, 4, 6, 8):
        value[day * 96 - 12 : day * 96 + 12] = 0.4 + 0.01 * np.arange(24)
    case = make.case(make.frame(times, value))
    limit = make.limit(high=0.3)
    return record(case, limit), limit


def test_minutes_of_the_days_add_up_to_those_of_the_episodes(make, spells):
    """Common sense: a clock read every midnight and added up is the clock."""
    judged, limit = spells
    total = 0.0
    for k in range(10):
        day = date(2026, 7, 1) + timedelta(days=k)
        period = period_between(day, day, make.zone)
        total += sum(minutes_in(judged, e, period) for e in excursions(judged, limit, period))
    whole = period_between(date(2026, 7, 1), date(2026, 7, 10), make.zone)
    assert total == sum(e.minutes for e in excursions(judged, limit, whole)) == 4 * 360


def test_only_what_touches_the_period(make, spells):
    judged, limit = spells
    inside, between = (period_between(date(2026, 7, d), date(2026, 7, d), make.zone) for d in (2, 1))
    assert [e.start for e in excursions(judged, limit, inside)] == [make.local(2026, 7, 2, 21)]
    assert excursions(judged, limit, between) == []


def test_worst_is_the_first_time_the_worst_was_reached(make, spells):
    judged, limit = spells
    value, when = worst_in(judged, limit, period_between(date(2026, 7, 2), date(2026, 7, 3), make.zone))
    assert value == pytest.approx(0.63)
    assert when == make.local(2026, 7, 3, 2, 45)


def test_nothing_after_the_instant_of_judgement(make):
    times = make.grid(make.local(2026, 7, 1), 4)
    value = np.append(np.linspace(0.05, 0.06, 192), np.linspace(0.5, 0.6, 192))
    limit = make.limit(high=0.3)
    known = record(make.case(make.frame(times, value), as_of=make.local(2026, 7, 3)), limit)
    assert excursions(known, limit, period_between(date(2026, 7, 1), date(2026, 7, 4), make.zone)) == []
