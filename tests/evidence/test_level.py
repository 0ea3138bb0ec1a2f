"""Level: the median of the weeks before, by the standard library; and nothing of days to come."""

import math
from dataclasses import replace
from datetime import date, timedelta
from statistics import median

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.baseline.scale import amount
from pipeline.epoch import day_number
from pipeline.evidence.level import level_on, level_since, tolerance_on
from pipeline.facts import DAILY

FIRST = date(2026, 1, 1)
LEVELS = st.lists(st.floats(0.1, 50.0), min_size=1, max_size=90)


@pytest.fixture(scope="module")
def of_levels(make):
    frame = make.frame(make.grid(make.utc(2026, 1, 1), 1), [1.0] * 96)
    plain = make.case(frame, make.tag(measures="flow", unit="gpm"), make.instrument(tolerance=0.4))

    def case(levels):
        days = [FIRST + timedelta(days=at) for at in range(len(levels))]
        frame = pl.DataFrame({"day": days, "level": levels, "value": None, "readings": 96})
        return replace(plain, daily=frame.select(pl.col(name).cast(kind) for name, kind in DAILY.items()))

    return case


@given(levels=LEVELS, at=st.integers(0, 120))
def test_it_is_the_median_of_four_weeks_up_to_the_day(of_levels, levels, at):
    day = day_number(FIRST) + at
    known = levels[max(at - 27, 0) : at + 1]
    assert level_on(of_levels(levels), day) == pytest.approx(median(known) if known else 1.0)
    assert level_on(of_levels(levels)) == pytest.approx(median(levels[-28:]))


@given(levels=LEVELS, later=LEVELS, ahead=st.integers(-40, 89))
def test_what_comes_later_never_moves_it(of_levels, levels, later, ahead):
    """Also not before the record begins, where the logbook may reach further back than the exports."""
    day = day_number(FIRST) + min(ahead, len(levels) - 1)
    before, after = of_levels(levels), of_levels([*levels, *later])
    assert level_on(before, day) == level_on(after, day)
    assert tolerance_on(before, day) == tolerance_on(after, day)


@given(levels=LEVELS, since=st.integers(-5, 89), at=st.integers(0, 89))
def test_since_an_error_began_it_is_the_median_of_those_days_alone(of_levels, levels, since, at):
    at = min(at, len(levels) - 1)
    since = min(since, at)
    first = day_number(FIRST)
    known = levels[max(since, at - 27, 0) : at + 1]
    assert level_since(of_levels(levels), first + since, first + at) == pytest.approx(median(known))


def test_a_meter_that_came_to_read_in_another_unit_is_off_by_what_it_lost(of_levels):
    """72 m3/h are 20 L/s: the reading is 52 too low, and by no more than the water there is."""
    case = of_levels([72.0] * 30 + [20.0] * 9)
    level = level_since(case, day_number(FIRST) + 30)
    assert amount(case.tag, math.log(20.0 / 72.0), level) == pytest.approx(-52.0)


def test_an_admissible_amount_is_a_share_where_errors_are_shares(of_levels):
    """0.4 gpm of 20 gpm is 2 %; without an instrument nothing is known to be too much."""
    case = of_levels([20.0] * 5)
    assert tolerance_on(case, day_number(FIRST) + 4) == pytest.approx(0.02)
    assert tolerance_on(replace(case, instrument=None), day_number(FIRST)) == float("inf")
