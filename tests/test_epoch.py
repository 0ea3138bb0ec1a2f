"""The epoch: against POSIX time, the calendar of the standard library and numpy's datetime64."""

from datetime import UTC, date, datetime, timedelta, timezone

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.epoch import date_of, day_number, epoch_us, instant_of, merged

INSTANTS = st.datetimes(datetime(1900, 1, 1), datetime(2200, 1, 1), timezones=st.just(UTC))
DAYS = st.dates(date(1900, 1, 1), date(2200, 1, 1))


# POSIX.1-2017, 4.16 "Seconds Since the Epoch": its own formula, with tm_year since 1900 and tm_yday from 0.
def _posix_seconds(at):
    year, yday = at.year - 1900, at.timetuple().tm_yday - 1
    days = yday + (year - 70) * 365 + (year - 69) // 4 - (year - 1) // 100 + (year + 299) // 400
    return at.second + at.minute * 60 + at.hour * 3600 + days * 86400


@given(st.datetimes(datetime(1970, 1, 1), datetime(2200, 1, 1), timezones=st.just(UTC)))
def test_microseconds_count_as_posix_counts_seconds(at):
    assert epoch_us(at) == _posix_seconds(at) * 1_000_000 + at.microsecond


@given(INSTANTS)
def test_microseconds_are_numpys_and_come_back(at):
    assert epoch_us(at) == int(np.datetime64(at.replace(tzinfo=None), "us").astype(np.int64))
    assert instant_of(epoch_us(at)) == at
    assert instant_of(np.int64(epoch_us(at))).tzinfo is UTC


def test_an_instant_counts_the_same_in_every_zone():
    denver = datetime(2026, 11, 12, 7, 15, tzinfo=timezone(timedelta(hours=-7)))
    assert epoch_us(denver) == epoch_us(datetime(2026, 11, 12, 14, 15, tzinfo=UTC))


@given(DAYS)
def test_days_are_numpys_and_come_back(day):
    assert day_number(day) == int(np.datetime64(day, "D").astype(np.int64))
    assert date_of(day_number(day)) == day


@pytest.mark.parametrize(
    ("number", "day"), [(0.0, (1970, 1, 1)), (0.99, (1970, 1, 1)), (-0.01, (1969, 12, 31))]
)
def test_a_point_within_a_day_belongs_to_it(number, day):
    assert date_of(number) == date(*day)


@given(st.lists(st.lists(st.integers(-50, 50)), min_size=1))
def test_instants_are_merged_as_numpy_finds_distinct_ones(lists):
    arrays = [np.array(one, np.int64) for one in lists]
    assert merged(*arrays).tolist() == np.unique(np.concatenate(arrays)).tolist()
