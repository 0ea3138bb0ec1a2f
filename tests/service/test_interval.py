"""Interval: paces of known instruments, a bound that holds, and never beyond plan or rule."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from pipeline.service.interval import FEWEST, Stretch, interval, stretches, whole
from pipeline.service.visits import Error, Visit


def _steady(*accrued, days=30.0):
    return [Stretch(days, share) for share in accrued]


def test_too_few_services_say_nothing():
    assert interval(_steady(*[0.1] * (FEWEST - 1))) is None
    assert interval(_steady(*[0.1] * FEWEST)) is not None


def test_an_instrument_that_always_drifts_alike_lasts_until_its_tolerance():
    """A tenth of the tolerance in 30 days: the tolerance after 300, whichever way it drifts."""
    for sign in (1, -1):
        told = interval(_steady(*[sign * 0.1] * 6))
        assert told.usual_days == told.borne_days == pytest.approx(300.0)
        assert (told.suggested_days, told.held_by) == (294.0, "record")  # whole weeks, rounded down


def test_the_bound_is_students_prediction_interval():
    """Paces .1 to .4 a 30 days: mean .25, sd .12910, t(.975, 3) = 3.182 (any table of Student's t)."""
    told = interval(_steady(0.1, 0.2, 0.3, 0.4))
    fastest = (0.25 + 3.182 * 0.12910 * np.sqrt(1.25)) / 30
    assert told.borne_days == pytest.approx(1 / fastest, rel=1e-3)
    assert told.usual_days == pytest.approx(30 / np.sqrt(np.mean(np.square([0.1, 0.2, 0.3, 0.4]))))


@pytest.mark.parametrize(("mean", "sd"), [(0.0, 0.2), (0.3, 0.1), (-0.3, 0.3)])
def test_nineteen_of_twenty_services_find_it_within_its_tolerance(mean, sd):
    """Instruments whose paces are normal, eight services each, and the ninth at the borne interval.

    4,000 instruments make the share certain to +- 0.7 % (2 sd); it may be well below 5 %.
    """
    random = np.random.default_rng(7)
    past_tolerance = []
    for _ in range(4000):
        paces = random.normal(mean, sd, 9)
        told = interval([Stretch(30.0, pace) for pace in paces[:8]])
        if told.failure is None:
            past_tolerance.append(abs(paces[8]) / 30 * told.borne_days > 1.0)
    assert 0.01 <= np.mean(past_tolerance) <= 0.057


def test_never_longer_than_plan_or_rule():
    slow = _steady(*[0.01] * 8)
    assert interval(slow).held_by == "record"
    assert (interval(slow, 28.0).suggested_days, interval(slow, 28.0).held_by) == (28.0, "plan")
    assert (interval(slow, 182.0, 92.0).suggested_days, interval(slow, 182.0, 92.0).held_by) == (92.0, "rule")
    assert interval(slow, 28.0, 92.0).held_by == "plan"
    fast = _steady(*[0.9, 1.1] * 4)
    assert interval(fast, 91.0, 92.0).suggested_days < 30.0
    assert interval(fast, 91.0, 92.0).held_by == "record"


def test_one_failure_is_no_pace_and_two_are():
    calm = [0.1, -0.1, 0.12, 0.08, -0.09]
    told = interval(_steady(*calm, 2.5))
    assert told.failure == Stretch(30.0, 2.5)
    assert told.borne_days == interval(_steady(*calm)).borne_days
    assert told.worst == 0.12
    twice = interval(_steady(*calm, 2.5, 2.6))
    assert twice.failure is None
    assert twice.borne_days < told.borne_days / 5
    # One that went past its tolerance as fast as the others go is no failure.
    assert interval(_steady(0.9, 0.8, 0.85, 0.95, 1.05)).failure is None


def test_whole_weeks_from_a_fortnight_on():
    assert [whole(days) for days in (0.4, 13.9, 14.0, 20.9, 95.0)] == [1.0, 13.0, 14.0, 14.0, 91.0]


def _visit(day, found, left, kind="calibration"):
    time = datetime(2026, 1, 1, tzinfo=UTC) + timedelta(days=day)
    errors = [None if share is None else Error(share * 0.2, share) for share in (found, left)]
    return Visit(time, (kind,), errors[0], errors[1], None, None)


def test_an_error_left_by_the_service_before_is_not_accrued_again():
    found = stretches(
        [_visit(0, 0.5, 0.3), _visit(30, 0.5, 0.0), _visit(60, None, 0.0), _visit(90, 0.1, 0.0)]
    )
    assert [(part.days, round(part.accrued, 9)) for part in found] == [(30.0, 0.2), (30.0, 0.1)]


def test_a_check_is_not_the_end_of_a_stretch_and_two_visits_on_end_are_none():
    found = stretches(
        [_visit(0, 0.0, 0.0), _visit(10, 0.9, 0.9, "check"), _visit(30, 0.6, 0), _visit(31, 0, 0)]
    )
    assert [(part.days, part.accrued) for part in found] == [(30.0, 0.6)]
