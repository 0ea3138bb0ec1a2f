"""Pairs: each grab beside the median of the five readings nearest it."""

from datetime import timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st


@pytest.fixture(scope="module")
def frame(make):
    times = make.grid(make.local(2026, 3, 2), 3)
    return make.frame(times, 7 + np.arange(len(times)) * 0.001)


def _pairs(make, frame, *grabs):
    return make.case(frame, grabs=make.events(grabs, [7.1] * len(grabs))).pairs


@given(minute=st.integers(60, 3 * 1440 - 61).filter(lambda m: 60 <= m % 1440 <= 1379))
def test_reading_is_the_median_of_the_five_nearest(make, frame, minute):
    when = make.local(2026, 3, 2) + timedelta(minutes=minute)
    nearest = frame.sort((frame["time"] - when).abs(), maintain_order=True).head(5)
    found = _pairs(make, frame, when)
    assert found["reading"].item() == nearest["value"].median()
    assert found["day"].item() == when.astimezone(make.zone).date()
    assert found["grab"].item() == 7.1


def test_an_hourly_record_grabbed_on_the_half_hour_takes_five_too(make):
    """Two readings are equally far on either side; six would be no median of five."""
    tag = make.tag(step_s=3600.0)
    hourly = make.frame(make.grid(make.local(2026, 3, 2), 1, 3600), np.arange(24.0) / 10)
    found = make.case(hourly, tag=tag, grabs=make.events([make.local(2026, 3, 2, 12, 30)], [1.2])).pairs
    assert found["reading"].item() in (1.2, 1.3)


def test_two_of_five_are_too_few(make, frame):
    when = make.local(2026, 3, 3, 12)
    for bad, height in ((2, 1), (3, 0)):
        good = np.ones(len(frame), bool)
        good[int(frame["time"].search_sorted(when)) - 2 :][:bad] = False
        spoilt = make.frame(frame["time"], frame["value"].to_numpy(), good=good)
        assert _pairs(make, spoilt, when).height == height


def test_grabs_without_a_record_pair_with_nothing(make, frame):
    assert _pairs(make, frame, make.local(2026, 2, 1)).height == 0
    assert _pairs(make, frame).height == 0


def test_order_of_the_lab_sheet_does_not_matter(make, frame):
    late, early = make.local(2026, 3, 3, 12), make.local(2026, 3, 2, 12)
    assert _pairs(make, frame, late, early).equals(_pairs(make, frame, early, late))


@pytest.mark.parametrize("minutes_before_midnight", [1, 10, 20, 30, 45])
def test_a_grab_near_midnight_is_judged_the_same_the_next_day(make, frame, minutes_before_midnight):
    """What counts for a day must be known by its end."""
    midnight = make.local(2026, 3, 3)
    grabs = make.events([midnight - timedelta(minutes=minutes_before_midnight)], [7.1])
    then, later = (
        make.case(frame, grabs=grabs, as_of=as_of).pairs for as_of in (midnight, make.local(2026, 3, 4))
    )
    assert then.equals(later)


@pytest.mark.parametrize("hours", [3, 5, 7])
def test_a_grab_beside_a_reading_that_proves_frozen_later(make, hours):
    """At the end of the day nobody could know; the pair stays what it was when its run is found out."""
    random = np.random.default_rng(3)
    times = make.grid(make.local(2026, 1, 5), 90)
    value = np.round(7.2 + make.noise(random, len(times), 0.9, 0.1), 2)
    midnight = make.local(2026, 3, 28)
    start = int(times.search_sorted(midnight - timedelta(hours=hours)))
    value[start : start + 90] = 7.2
    grabs = make.events([midnight - timedelta(hours=1), midnight + timedelta(hours=12)], [7.0, 7.0])
    frame = make.frame(times, value)
    then, later = (
        make.case(frame, grabs=grabs, as_of=as_of) for as_of in (midnight, make.local(2026, 3, 30))
    )
    assert later.stuck.height == 1
    assert then.pairs.equals(later.pairs)


@pytest.mark.parametrize(
    ("hour", "measures", "is_paired"),
    [
        (6, "dissolved_oxygen", True),
        (9, "dissolved_oxygen", True),
        (9.5, "dissolved_oxygen", False),
        (10, "dissolved_oxygen", False),
        (10.5, "dissolved_oxygen", False),
        (12, "dissolved_oxygen", True),
        (10, "level", True),
    ],
)
def test_a_grab_in_the_swing_is_no_witness(make, hour, measures, is_paired):
    """Air comes on in a basin at ten: within an hour of that some minutes decide between 0.1 and 2 mg/L.

    Verification samples are taken while the process is steady: common practice, no source. A level is read
    in place, at a minute that is known.
    """
    tag = make.tag(measures=measures, unit="ft" if measures == "level" else "mg/L", low=0.0, high=20.0)
    times = make.grid(make.local(2026, 3, 2), 1)
    value = np.where(np.arange(len(times)) < 40, 0.1, 2.0) + 0.02 * (np.arange(len(times)) % 3)
    when = make.local(2026, 3, 2) + timedelta(hours=hour)
    case = make.case(
        make.frame(times, np.round(value, 2)),
        tag=tag,
        instrument=make.instrument(tolerance=0.3),
        grabs=make.events([when], [0.1]),
    )
    assert case.pairs.height == is_paired


def _of_a_rack(make, minute, run, measures="turbidity", as_of=None):
    """Pairs of a grab `minute` minutes after a rack came on at ten; it filters for `run` minutes."""
    tag = make.tag(measures=measures, unit="1", high=None, step_s=120.0)
    times = make.grid(make.local(2026, 3, 2), 2, 120)
    on = make.local(2026, 3, 2, 10)
    grabs = make.events([on + timedelta(minutes=minute)], [1.0])
    frame = make.frame(times, np.full(len(times), 1.0) + np.arange(len(times)) % 3 * 0.001)
    changes = [on, on + timedelta(minutes=run)]
    return make.case(
        frame, tag=tag, instrument=make.instrument(), grabs=grabs, changes=changes, as_of=as_of
    ).pairs.height


@pytest.mark.parametrize(
    ("minute", "run", "pairs"),
    [
        (19, 180, 0),
        (20, 180, 1),
        (160, 180, 1),
        (161, 180, 0),
        (9, 40, 0),
        (10, 40, 1),
        (30, 40, 1),
        (35, 40, 0),
    ],
)
def test_a_grab_beside_a_change_of_state_is_no_witness(make, minute, run, pairs):
    """Twenty minutes, or a quarter of a short run: a bottle's minute is not known better.

    Common practice, no source. A membrane rack is washed every 40 minutes: it would have no grab otherwise.
    """
    assert _of_a_rack(make, minute, run) == pairs


def test_what_is_read_in_place_has_its_minute(make):
    assert _of_a_rack(make, 5, 180, measures="flow") == 1


@pytest.mark.parametrize(("minute", "pairs"), [(10, 0), (13.8 * 60, 1)])
def test_a_change_of_the_next_day_is_not_known_yet(make, minute, pairs):
    """It comes on at ten and goes off just past midnight, at 00:05."""
    for as_of in (make.local(2026, 3, 3), None):
        assert _of_a_rack(make, minute, 14 * 60 + 5, as_of=as_of) == pairs
