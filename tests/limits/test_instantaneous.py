"""Instantaneous: minutes of the period alone, and nothing unknown called kept."""

from datetime import date, timedelta

import numpy as np
import pytest

DAY = date(2026, 7, 14)


def _frame(make, lively, **outside):
    """Three days of about 0.07; `outside` = {"at hh:mm of 15 July": (readings, value)}."""
    data = lively(DAY)
    for name, (count, value) in outside.items():
        hour, minute = int(name[1:3]), int(name[3:5])
        row = 96 + hour * 4 + minute // 15
        data.value[row : row + count] = value
    return data


def test_minutes_outside_are_exact(make, judged, lively):
    data = _frame(make, lively, t1000=(2, 0.4))
    found = judged("instantaneous", make.frame(data.times, data.value), DAY, DAY + timedelta(2), high=0.3)
    assert (found.status, found.minutes_outside, found.longest_minutes) == ("outside", 30, 30)
    assert (found.worst, found.worst_at) == (0.4, make.local(2026, 7, 15, 10))
    assert found.value == found.worst
    (episode,) = found.excursions
    assert (episode.start, episode.end) == (make.local(2026, 7, 15, 10), make.local(2026, 7, 15, 10, 30))
    assert episode.area == pytest.approx(0.1 * 30)


def test_an_episode_across_midnight_is_shared_out(make, judged, lively):
    data = _frame(make, lively, t2330=(4, 0.4))
    frame = make.frame(data.times, data.value)
    first, second = (
        judged("instantaneous", frame, day, day, high=0.3) for day in (date(2026, 7, 15), date(2026, 7, 16))
    )
    assert first.minutes_outside == second.minutes_outside == 30
    assert [e.excursion_id for e in first.excursions] == [e.excursion_id for e in second.excursions]
    assert first.excursions[0].minutes == 60


def test_both_sides_are_counted_once_each(make, judged, lively):
    """High, low, high within the merge: 30 min above and 15 below are 45 min outside, not 60."""
    data = _frame(make, lively, t1000=(1, 0.4), t1015=(1, 0.001), t1030=(1, 0.4))
    frame = make.frame(data.times, data.value)
    found = judged("instantaneous", frame, DAY, DAY + timedelta(2), high=0.3, low=0.01, merge_minutes=30)
    assert found.minutes_outside == 45
    assert sorted(e.minutes for e in found.excursions) == [15, 30]


def test_shorter_than_allowed_is_near_not_outside_and_not_simply_within(make, judged, lively):
    data = _frame(make, lively, t1000=(1, 0.4))
    frame = make.frame(data.times, data.value)
    found = judged("instantaneous", frame, DAY, DAY + timedelta(2), high=0.3, min_minutes=30)
    assert (found.status, found.value, found.minutes_outside) == ("near", 0.4, 0)


@pytest.mark.parametrize(
    ("value", "status"), [(0.26, "within"), (0.28, "near"), (0.30, "near"), (0.31, "outside")]
)
def test_near_is_the_last_tenth_before_the_limit(make, judged, lively, value, status):
    data = _frame(make, lively, t1000=(1, value))
    found = judged("instantaneous", make.frame(data.times, data.value), DAY, DAY + timedelta(2), high=0.3)
    assert found.status == status


@pytest.mark.parametrize(
    ("value", "status"), [(6.1, "near"), (6.5, "within"), (8.9, "near"), (8.5, "within")]
)
def test_near_is_a_tenth_of_the_band(make, judged, value, status):
    """The pH band 6 to 9 of an effluent (40 CFR 133.102) is 3 wide."""
    times = make.grid(make.local(2026, 7, 14), 1)
    random = np.random.default_rng(1)
    readings = np.append(np.round(7.5 + random.normal(0, 0.1, 95), 2), value)
    found = judged("instantaneous", make.frame(times, readings), DAY, DAY, low=6.0, high=9.0)
    assert found.status == status


@pytest.mark.parametrize(("known", "status"), [(0.76, "within"), (0.74, "not assessable")])
def test_poor_coverage_is_never_within(make, judged, lively, known, status):
    data = lively(DAY, days=1)
    good = np.arange(96) < 96 * known - 1
    found = judged("instantaneous", make.frame(data.times, data.value, good=good), DAY, DAY, high=0.3)
    assert found.status == status


def test_outside_wins_over_poor_coverage(make, judged, lively):
    data = lively(DAY, days=1)
    data.value[2] = 0.5
    found = judged(
        "instantaneous", make.frame(data.times, data.value, good=np.arange(96) < 4), DAY, DAY, high=0.3
    )
    assert found.status == "outside"
    assert found.coverage_pct < 10


def test_time_before_the_first_reading_is_not_known(make, judged, lively):
    """A tag that came to life on the last evening of the period says nothing about the days before."""
    data = lively(DAY)
    frame = make.frame(data.times[-20:], data.value[-20:])
    found = judged("instantaneous", frame, DAY, DAY + timedelta(2), high=0.3)
    assert found.status == "not assessable"
    assert found.coverage_pct == pytest.approx(100 * 20 / 288)


def test_no_reading_at_all_is_not_assessable(make, judged, lively):
    data = lively(DAY)
    frame = make.frame(data.times[:1], data.value[:1], good=False)
    found = judged("instantaneous", frame, DAY, DAY + timedelta(2), as_of=make.local(2026, 7, 17), high=0.3)
    assert (found.status, found.value, found.coverage_pct) == ("not assessable", None, 0.0)


@pytest.fixture(scope="module")
def frozen(make):
    """A pH that stops moving for its last three days."""

    def record_of(at):
        times = make.grid(make.local(2026, 3, 1), 100)
        value = np.round(7.2 + make.noise(np.random.default_rng(4), len(times), 0.9, 0.08), 2)
        value[-3 * 96 :] = at
        return make.frame(times, value), date(2026, 6, 6), date(2026, 6, 8)

    return record_of


def test_a_frozen_value_inside_is_no_evidence(make, judged, frozen):
    frame, first, last = frozen(7.2)
    found = judged("instantaneous", frame, first, last, low=6.0, high=9.0)
    assert found.status == "not assessable"
    assert found.coverage_pct < 40


def test_a_frozen_value_outside_still_counts(make, judged, frozen):
    frame, first, last = frozen(9.5)
    found = judged("instantaneous", frame, first, last, low=6.0, high=9.0)
    assert found.status == "outside"
    assert found.minutes_outside > 2 * 1440
