"""Errors: what is known of the noise at a value comes from before it."""

from dataclasses import fields

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from pipeline.evidence.errors import against_grabs, against_history


def _record(make, seed=1, days=500, grab_sd=0.05, every=7, tag=None):
    random = np.random.default_rng(seed)
    times = make.grid(make.local(2024, 6, 1), days)
    water = 7.4 + make.noise(random, days, 0.5, 0.05)[np.arange(len(times)) // 96]
    value = np.round(water + make.noise(random, len(times), 0.8, 0.02), 2)
    row = np.arange(40, len(times) - 4, every * 96)
    grabs = make.events(times.gather(row), np.round(value[row] + random.normal(0, grab_sd, len(row)), 2))
    return make.frame(times, value), grabs


def _case(make, record, as_of=None, tag=None):
    frame, grabs = record
    return make.case(frame, tag=tag, instrument=make.instrument(), grabs=grabs, as_of=as_of)


@pytest.mark.parametrize("source", [against_grabs, against_history])
def test_later_data_change_no_error_of_the_past(make, source):
    record = _record(make)
    whole = source(_case(make, record))
    for month, day in ((1, 15), (4, 28), (8, 3)):
        part = source(_case(make, record, as_of=make.local(2025, month, day)))
        count = len(part.day)
        for field in fields(part):
            before, after = getattr(part, field.name), getattr(whole, field.name)
            if isinstance(before, np.ndarray):
                assert_array_equal(before, after[:count])


def test_scatter_goes_from_common_practice_to_the_plants_own(make):
    """A lab twice as noisy as usual (0.10 pH) is believed more the longer it is known."""
    sigma = against_grabs(_case(make, _record(make, grab_sd=0.10, every=1))).sigma
    assert_allclose(sigma[:3], 0.05)
    # 500 pairs against a prior worth eight; a MAD of 500 has a standard error of 1.17 / sqrt(500) = 5 %.
    assert sigma[-1] == pytest.approx(0.10, rel=0.2)
    assert sigma[-1] > sigma[10] > 0.05


def test_a_slow_drift_does_not_widen_the_scatter(make):
    frame, grabs = _record(make)
    day = np.arange(frame.height) / 96
    drifting = frame.with_columns(value=frame["value"] + 0.02 / 7 * day)
    plain, with_drift = (against_grabs(_case(make, (f, grabs))).sigma[-1] for f in (frame, drifting))
    assert with_drift == pytest.approx(plain, rel=0.15)


def test_what_no_practice_is_known_for_takes_a_third_of_its_tolerance(make):
    tag = make.tag(measures="dissolved_oxygen", unit="mg/L")
    assert against_grabs(_case(make, _record(make), tag=tag)).sigma[0] == pytest.approx(0.2 / 3)


def test_history_is_judged_only_after_there_is_enough(make):
    """45 days of past, and eight weeks of quarantine before the block that holds a day."""
    errors = against_history(_case(make, _record(make)))
    first = int(np.flatnonzero(np.isfinite(errors.error))[0])
    assert 45 + 56 <= first < 45 + 56 + 28
    assert errors.limit[first] > errors.limit[-1], "a longer past is trusted more"


def test_a_level_that_holds_has_no_error(make):
    errors = against_history(_case(make, _record(make, seed=3)))
    known = np.isfinite(errors.error)
    assert np.median(errors.error[known]) == pytest.approx(0.0, abs=0.02)
    # Daily medians of the water's own wander.
    assert errors.sigma[-1] == pytest.approx(0.05, rel=0.25)
    # 430 days: standard error of the lag-one correlation sqrt((1 - 0.25) / 430) = .04; four of them.
    assert errors.phi[-1] == pytest.approx(0.5, abs=0.17)
