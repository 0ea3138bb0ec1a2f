"""Usual: departures mean what they say, and say it for good."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.spc.robust import medians
from pipeline.upsets.usual import LEARN_DAYS, SLOTS_A_DAY, course, departures

FIRST = 19_905  # Monday 1 July 2024
DAYS = 112


def record(seed, days=DAYS, phi=0.9):
    """A course over the day, and noise of unit sd that remembers two hours."""
    from scipy.signal import lfilter

    random = np.random.default_rng(seed)
    at = np.arange(days * SLOTS_A_DAY)
    noise = lfilter([np.sqrt(1 - phi**2)], [1.0, -phi], random.standard_normal(len(at)))
    return noise + 3 * np.sin(2 * np.pi * at / SLOTS_A_DAY)


def clock(count, first=FIRST):
    at = np.arange(count)
    return first + at // SLOTS_A_DAY, at % SLOTS_A_DAY


@given(st.integers(0, 10_000))
def test_medians_are_numpy_s_with_holes_left_out(seed):
    random = np.random.default_rng(seed)
    table = random.standard_normal((random.integers(1, 12), 7)).round(1)
    table[random.random(table.shape) < 0.3] = np.nan
    known = np.isfinite(table).any(axis=0)
    assert np.array_equal(np.isfinite(medians(table)), known)
    assert np.allclose(medians(table)[known], np.nanmedian(table[:, known], axis=0))


def test_a_departure_of_five_sds_reads_five():
    value = record(1)
    value[-40:] += 5.0
    z = departures(value, *clock(len(value)), least_sd=0.01)
    # The sd is learned from eight weeks of correlated noise: within a fifth.
    assert 4.0 <= np.median(z[-40:]) <= 6.0
    assert abs(np.nanmedian(z[: -2 * SLOTS_A_DAY])) < 0.3


def test_nothing_is_said_before_two_weeks_are_known():
    z = departures(record(2), *clock(DAYS * SLOTS_A_DAY), least_sd=0.01)
    first_known = np.flatnonzero(np.isfinite(z))[0] // SLOTS_A_DAY
    assert 14 <= first_known <= LEARN_DAYS


@pytest.mark.parametrize("seed", range(4))
def test_what_was_said_of_an_hour_never_changes(seed):
    value = record(seed)
    value[np.random.default_rng(seed).random(len(value)) < 0.05] = np.nan
    whole = departures(value, *clock(len(value)), least_sd=0.01)
    for days in (61, 77, 90, 111):
        count = days * SLOTS_A_DAY
        part = departures(value[:count], *clock(count), least_sd=0.01)
        assert np.array_equal(part, whole[:count], equal_nan=True)


def test_a_level_that_jumps_with_every_pump_start_is_not_unusual_when_it_jumps():
    random = np.random.default_rng(5)
    second_pump = np.repeat(random.random(DAYS * 24) < 0.15, 4)
    value = random.normal(0, 0.1, DAYS * SLOTS_A_DAY) + 8.0 * second_pump
    z = departures(value, *clock(len(value)), least_sd=0.01)
    assert np.nanquantile(np.abs(z), 0.99) < 4.0


def test_a_machine_that_does_not_change_its_clock_is_not_unusual_after_the_change():
    count, back = DAYS * SLOTS_A_DAY, 90 * SLOTS_A_DAY
    at = np.arange(count)
    steady = 5.0 * np.sin(2 * np.pi * at / 24) + np.random.default_rng(6).normal(0, 0.3, count)
    wall = np.where(at < back, at, at - 4)  # the wall clock falls back by an hour
    z = departures(steady, FIRST + wall // SLOTS_A_DAY, wall % SLOTS_A_DAY, least_sd=0.01)
    assert np.nanquantile(np.abs(z[back:]), 0.98) < 5.0


def test_the_usual_course_is_the_course_over_the_day():
    value = record(7, phi=0.0)
    usual = course(value, *clock(len(value)), least_sd=0.01)
    at = np.arange(len(value))
    off = usual.expected - 3 * np.sin(2 * np.pi * at / SLOTS_A_DAY)
    # Medians of 40 working days and 16 weekend days, five quarters smoothed together.
    assert np.nanmax(np.abs(off)) < 1.0
    assert abs(np.nanmedian(usual.sd) - 1.0) < 0.1
