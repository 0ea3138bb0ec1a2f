"""Watch: opened, measured and closed by rules, and never by what came later."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.evidence.bar import Bar
from pipeline.evidence.errors import Errors
from pipeline.evidence.watch import spells

SIGMA = 0.05


def _errors(error, every=7.0, sigma=SIGMA, weight=0.3, limit=3.4):
    n = len(error)
    day = np.arange(n) * every
    scatter, memory, limits = np.full(n, sigma), np.zeros(n), np.full(n, limit)
    return Errors("lab grab", day, np.asarray(error, float), scatter, memory, limits, weight, 112, 1.6)


def _bar(tolerance=0.2, horizon=28.0, services=(), wait_days=0.0):
    return Bar(lambda day: tolerance, lambda day: horizon, services, wait_days)


def _noise(n, seed=1):
    return np.random.default_rng(seed).normal(0, SIGMA, n)


def _ramp(n, onset, weekly):
    return weekly * np.clip(np.arange(n) - onset, 0, None)


def test_nothing_wrong_matters_to_nobody():
    """30 sensors over 100 weeks are 57 sensor-years: a budget of .25 a year for the record is 14 spells."""
    found = [s for seed in range(30) for s in spells(_errors(_noise(100, seed)), _bar())]
    assert len(found) <= 14
    assert [s for s in found if s.matters_since is not None] == []


def test_certainty_alone_matters_to_nobody():
    """An error of 0.12 is certain after thirty grabs, and well inside a tolerance of 0.2."""
    (certain,) = spells(_errors(0.12 + _noise(60)), _bar())
    assert certain.matters_since is None and not certain.is_past
    (past,) = spells(_errors(0.12 + _noise(60)), _bar(tolerance=0.06))
    assert past.matters_since is not None


def test_a_drift_is_certain_before_it_matters():
    (spell,) = spells(_errors(_ramp(60, 20, 0.01) + _noise(60)), _bar(tolerance=0.2))
    # Past the tolerance after week 40; eight grabs later there is no doubt, with intervals 1.6 times as wide.
    assert 20 * 7 < spell.crossed < 40 * 7 - 28 and spell.crossed < spell.matters_since < 49 * 7


def test_a_ramp_opens_before_it_is_past_its_tolerance():
    (spell,) = spells(_errors(_ramp(40, 20, 0.04) + _noise(40)), _bar(tolerance=0.4, horizon=90.0))
    assert spell.closed is None
    assert 20 < spell.matters_since / 7 < 20 + 0.4 / 0.04, "it was foreseen"
    assert spell.course.rate * 7 == pytest.approx(0.04, rel=0.15)
    assert spell.is_past


def test_without_a_horizon_it_waits_for_the_tolerance():
    ramp = _ramp(40, 20, 0.04) + _noise(40)
    early, late = (
        spells(_errors(ramp), _bar(tolerance=0.4, horizon=h))[0].matters_since for h in (90.0, 0.0)
    )
    assert early < late


def test_a_service_closes_and_restarts():
    error = np.append(_ramp(30, 10, 0.05), np.zeros(30)) + _noise(60)
    (spell,) = spells(_errors(error), _bar(services=[29.5 * 7]))
    assert spell.closed == 29.5 * 7
    assert spell.course.error == pytest.approx(0.05 * 19, abs=0.1)


def test_fourteen_quiet_days_close():
    error = np.append(np.zeros(20), np.append(np.full(15, 0.4), np.zeros(25))) + _noise(60)
    (spell,) = spells(_errors(error), _bar())
    assert 20 * 7 < spell.crossed <= 22 * 7
    assert 35 * 7 + 14 <= spell.closed <= 35 * 7 + 56


def test_own_history_must_last_and_must_look_like_a_ramp():
    """A level that jumped may be the water; one that climbs for two weeks is worth a grab."""
    daily = {"every": 1.0, "weight": 0.1, "limit": 12.5}
    step = np.where(np.arange(160) >= 100, 0.5, 0.0) + _noise(160)
    ramp = 0.02 * np.clip(np.arange(160) - 100, 0, None) + _noise(160)
    assert [s.matters_since for s in spells(_errors(step, **daily), _bar(wait_days=14.0))] == [None]
    (spell,) = spells(_errors(ramp, **daily), _bar(wait_days=14.0))
    assert spell.matters_since >= 114


def test_one_wild_value_opens_nothing_wherever_it_falls():
    """Hampel's rule: one value apart from both neighbours is a slip, not a change."""
    for at in range(4, 30):
        error = _noise(30)
        error[at] += 1.0
        found = spells(_errors(error), _bar(services=[10.5 * 7]))
        assert [s for s in found if s.matters_since is not None] == []


def test_the_newest_value_must_bear_it_out():
    """A value 5.6 sigma off and the next one back at half a sigma: the first was not the instrument."""
    error = np.zeros(22)
    error[20:] = 0.28, 0.025
    assert spells(_errors(error), _bar(tolerance=0.08)) == []
    error[21] = 0.12
    assert len(spells(_errors(error), _bar(tolerance=0.08))) == 1


def test_it_takes_a_second_day():
    """One grab 5.5 sigma off is far past a small tolerance, and still one grab."""
    error = np.zeros(30)
    error[20] = 5.5 * SIGMA
    assert spells(_errors(error), _bar(tolerance=0.08)) == []
    error[20:] = 5.5 * SIGMA
    (spell,) = spells(_errors(error), _bar(tolerance=0.08))
    assert spell.crossed == 21 * 7


SERIES = st.tuples(st.integers(0, 10_000), st.integers(5, 50), st.floats(-0.2, 0.2), st.floats(-0.6, 0.6))


@settings(max_examples=60, deadline=None)
@given(
    SERIES,
    st.lists(st.integers(1, 59), max_size=3, unique=True),
    st.integers(1, 60),
    st.sampled_from([0.0, 14.0]),
)
def test_later_errors_change_no_crossing(series, services, cut, wait_days):
    seed, onset, weekly, step = series
    error = _ramp(60, onset, weekly) + np.where(np.arange(60) >= onset, step, 0) + _noise(60, seed)
    days = sorted(7.0 * k + 3 for k in services)
    whole = _errors(error)
    part = _errors(error[:cut])
    known = [day for day in days if day < 7.0 * cut]
    found = spells(part, _bar(services=known, wait_days=wait_days))
    then = [s for s in spells(whole, _bar(services=days, wait_days=wait_days)) if s.crossed < 7.0 * cut]
    assert [s.crossed for s in found] == [s.crossed for s in then]
    listed = [s.matters_since for s in then]
    assert [s.matters_since for s in found] == [
        d if d is not None and d < 7.0 * cut else None for d in listed
    ]


@given(SERIES)
@settings(max_examples=30, deadline=None)
def test_mirror(series):
    seed, onset, weekly, step = series
    error = _ramp(60, onset, weekly) + np.where(np.arange(60) >= onset, step, 0) + _noise(60, seed)
    up, down = spells(_errors(error), _bar()), spells(_errors(-error), _bar())
    assert [(s.crossed, s.closed) for s in up] == [(s.crossed, s.closed) for s in down]
    assert [s.course.error for s in up] == pytest.approx([-s.course.error for s in down])


def test_missing_errors_are_left_out():
    error = _ramp(40, 20, 0.05) + _noise(40)
    holed = np.insert(error, 5, np.nan)
    errors = _errors(error)
    with_hole = _errors(holed)
    with_hole.day[:] = np.insert(errors.day, 5, 30.0)
    assert [s.crossed for s in spells(with_hole, _bar())] == [s.crossed for s in spells(errors, _bar())]


def test_no_errors_no_spells():
    assert spells(_errors([]), _bar(services=[10.0])) == []


def _after(before, seed):
    """Week since its service at which a ramp of 0.04 a week matters, after a segment `before`."""
    n = len(before)
    error = np.concatenate([before, 0.04 * np.arange(1, 9) + 0.5 * _noise(8, seed)])
    found = spells(_errors(error), _bar(horizon=14.0, services=(n * 7.0 - 3.5,)))
    return next((s.matters_since / 7 - n for s in found if s.matters_since and s.matters_since > n * 7), 9.0)


def test_a_drift_that_was_no_sound_instruments_is_expected_again():
    """What drifted past its tolerance in one interval will in the next: fewer grabs are enough to say so."""
    again = [_after(0.04 * np.arange(12) + _noise(12), seed) for seed in range(6)]
    anew = [_after(_noise(12), seed) for seed in range(6)]
    assert all(one <= other for one, other in zip(again, anew, strict=True))
    assert sum(again) < sum(anew) - 2


def test_a_small_error_is_looked_at_and_lasts_though_it_raises_no_alarm():
    """1.6 sigma is half of what the EWMA's limit lets pass; the mean of a dozen is past any doubt."""
    noise = np.random.default_rng(8).normal(0, 0.05, 60)
    (spell,) = spells(_errors(np.full(60, 0.08) + noise, limit=6.0), _bar(tolerance=0.1))
    assert spell.closed is None


@pytest.mark.parametrize(("every", "late"), [(1.0, 3.0), (7.0, 14.0)])
def test_what_went_at_once_though_nobody_wrote_it_down_is_over(every, late):
    """Three tolerances off, then right: the third grab that says so ends it, or the next look.

    Where the course itself already tells that it went, two weeks without it do.
    """
    count, begin, cured = 120, 60, 88
    error = _noise(count)
    error[begin:cured] += 0.6
    (spell,) = [s for s in spells(_errors(error, every), _bar()) if s.matters_since is not None]
    assert spell.closed is not None
    assert (cured + 2) * every <= spell.closed <= (cured + 2) * every + late
    # One good grab among bad ones denies nothing.
    error[begin:] = 0.6 + _noise(count)[begin:]
    error[cured : cured + 2] = 0.0
    (spell,) = [s for s in spells(_errors(error, every), _bar()) if s.matters_since is not None]
    assert spell.closed is None
