"""Daily: the hour-of-day habit is taken off, so that half a day is no change; the past never moves."""

from datetime import date, timedelta

import numpy as np
import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from pipeline.facts import DAILY

DAYS = 112
SWING = 0.5
SCATTER = 0.008
"""Of a day's median: noise of sd 0.02 and the sine's climb within an hour (sd 0.03) over 96 readings with a
memory of 0.5, some 32 independent ones: 1.25 * 0.036 / sqrt(32)."""


@pytest.fixture(scope="module")
def rhythm(make):
    """Sixteen weeks of a daily sine of half a pH about 7.2, across the night the clocks go forward."""
    times = make.grid(make.local(2026, 1, 5), DAYS - 1 / 24)  # one day of these has 23 hours
    hour = np.array([t.hour + t.minute / 60 for t in times.dt.convert_time_zone("America/Denver")])
    noise = make.noise(np.random.default_rng(8), len(times), 0.5, 0.02)
    return times, 7.2 + SWING * np.sin(2 * np.pi * hour / 24) + noise


def _daily(make, times, value, **judged):
    return make.case(make.frame(times, value, **judged)).daily


def test_one_row_a_local_day(make, rhythm):
    found = _daily(make, *rhythm)
    assert found.schema == pl.Schema(DAILY)
    assert found["day"].to_list() == [date(2026, 1, 5) + timedelta(days=k) for k in range(DAYS)]
    # 8 March 2026 has 23 hours in Denver (tz database): 92 quarter hours.
    assert found.filter(pl.col("day") == date(2026, 3, 8))["readings"].item() == 92
    assert found.filter(pl.col("day") == date(2026, 3, 9))["readings"].item() == 96


def test_constant_level_is_recovered(make, rhythm):
    later = _daily(make, *rhythm)["value"].to_numpy()[28:]
    assert_allclose(later, 7.2, atol=4 * SCATTER)


def test_half_a_day_is_no_change_where_a_plain_median_says_so(make, rhythm):
    times, value = rhythm
    local = times.dt.convert_time_zone("America/Denver")
    morning = ((local.dt.date() == date(2026, 4, 15)) & (local.dt.hour() < 12)).to_numpy()
    found = _daily(make, times, value, good=~morning).filter(pl.col("day") == date(2026, 4, 15))
    # The plain median of an afternoon, half a sine down: -0.5 * sin(pi/4) on average.
    assert found["level"].item() == pytest.approx(7.2 - SWING * np.sin(np.pi / 4), abs=0.03)
    assert found["value"].item() == pytest.approx(7.2, abs=4 * SCATTER * np.sqrt(2))


def test_too_little_of_a_day_has_no_value(make, rhythm):
    times, value = rhythm
    day = (times.dt.convert_time_zone("America/Denver").dt.date() == date(2026, 4, 15)).to_numpy()
    for kept, told in ((11, False), (12, True)):  # an eighth of 96
        good = ~day
        good[np.flatnonzero(day)[:kept]] = True
        found = _daily(make, times, value, good=good).filter(pl.col("day") == date(2026, 4, 15))
        assert (found["value"].item() is not None) is told
        assert found["readings"].item() == kept


def test_days_without_a_reading_stand_empty(make, rhythm):
    times, value = rhythm
    keep = ~((times >= make.local(2026, 2, 2)) & (times < make.local(2026, 2, 5))).to_numpy()
    found = _daily(make, times.filter(pl.Series(keep)), value[keep])
    assert found.height == DAYS
    assert found.filter(pl.col("value").is_null())["day"].to_list() == [date(2026, 2, k) for k in (2, 3, 4)]


def test_shares_are_taken_on_the_log_scale(make):
    times = make.grid(make.local(2026, 1, 5), 40)
    tag = make.tag(measures="turbidity", unit="NTU", low=0.0, high=10.0)
    noise = make.noise(np.random.default_rng(1), len(times), 0.5, 0.02)
    found = make.case(make.frame(times, 0.05 * np.exp(noise)), tag=tag).daily
    assert found["value"].to_numpy()[30] == pytest.approx(np.log(0.05), abs=0.02)
    assert found["level"].to_numpy()[30] == pytest.approx(0.05, rel=0.02)


def test_frozen_readings_stay_out_once_they_gave_themselves_away(make, rhythm):
    times, value = rhythm
    value = np.round(value, 2)
    start = int(times.search_sorted(make.local(2026, 4, 15, 6)))
    value[start : start + 72] = 9.0
    found = _daily(make, times, value).filter(pl.col("day").is_between(date(2026, 4, 15), date(2026, 4, 15)))
    assert found["readings"].item() == 24
    assert found["value"].item() == pytest.approx(7.2, abs=0.05)


def test_a_bad_or_impossible_reading_amid_a_frozen_run_stays_out(make, rhythm):
    """What the instrument's span cannot hold is never part of a day, frozen neighbours or not."""
    times, value = rhythm
    value = np.round(value, 2)
    start = int(times.search_sorted(make.local(2026, 4, 15, 22)))
    value[start : start + 40] = 7.2
    value[start + 1 : start + 8 : 2] = 99.0
    found = _daily(make, times, value).filter(pl.col("day") == date(2026, 4, 15))
    assert found["readings"].item() == 92


@settings(max_examples=12, deadline=None)
@given(cut=st.integers(2, DAYS - 1), seed=st.integers(0, 5))
def test_the_past_does_not_change_when_more_arrives(make, cut, seed):
    """Frozen spells, gaps and a bad day now and then; every past day's row must stay as it was."""
    random = np.random.default_rng(seed)
    times = make.grid(make.local(2026, 1, 5), DAYS - 1 / 24)
    value = np.round(7.2 + make.noise(random, len(times), 0.95, 0.1), 2)
    for start in random.integers(0, len(times) - 200, 12):
        value[start : start + random.integers(3, 90)] = value[start]
    for start in random.integers(0, len(times) - 200, 6):
        value[start : start + random.integers(1, 30)] = 99.0
    good = random.random(len(times)) > 0.02
    as_of = make.local(*(date(2026, 1, 5) + timedelta(days=cut)).timetuple()[:3])
    frame = make.frame(times, value, good=good)
    whole, part = make.case(frame), make.case(frame, as_of=as_of)
    assert part.daily.equals(whole.daily.head(cut))
    known = whole.stuck.filter(pl.col("crossed") < as_of).select("start", "crossed", "allowed_minutes")
    assert part.stuck.select("start", "crossed", "allowed_minutes").equals(known)
