"""Twin: the usual difference of a pair falls out, its slow drift is no scatter, and nothing looks ahead."""

from dataclasses import fields

import numpy as np
import pytest
from numpy.testing import assert_array_equal

from pipeline.casebook import with_twin
from pipeline.evidence.twin import against_twin


def _pair(make, as_of=None, drift=0.0, seed=3, days=500):
    random = np.random.default_rng(seed)
    times = make.grid(make.local(2024, 6, 1), days)
    day = np.arange(len(times)) / 96
    water = 7.4 + make.noise(random, days, 0.5, 0.1)[day.astype(int)]
    wander = make.noise(random, days, float(np.exp(-1 / 20)), 0.0125)[day.astype(int)]
    services = [make.local(2024, 7, 1, 10), make.local(2024, 12, 20, 10), make.local(2025, 5, 5, 10)]
    since = (
        day - np.append(0.0, [30.4, 202.4, 338.4])[np.searchsorted([30.4, 202.4, 338.4], day, side="right")]
    )
    one = make.case(
        make.frame(times, np.round(water + 0.3 + wander + drift / 7 * since, 3)),
        instrument=make.instrument(), services=make.services(services), as_of=as_of,
    )  # fmt: skip
    other = make.case(make.frame(times, np.round(water, 3)), tag=make.tag(tag="AIT-101B"), as_of=as_of)
    return with_twin(one, other)


def test_later_data_change_no_error_of_the_past(make):
    whole = against_twin(_pair(make, drift=0.005))
    for month, day in ((12, 30), (2, 11), (4, 28), (8, 3)):
        known = against_twin(_pair(make, make.local(2024 if month == 12 else 2025, month, day), drift=0.005))
        count = len(known.day)
        for field in fields(known):
            before, after = getattr(known, field.name), getattr(whole, field.name)
            if isinstance(before, np.ndarray):
                assert_array_equal(before, after[:count], field.name)


def test_the_usual_difference_of_the_two_is_no_error(make):
    errors = against_twin(_pair(make))
    known = np.isfinite(errors.error)
    # The pair's wander of 0.0125 with a memory of 20 days: over 400 days known to a fifth of that and more.
    assert np.median(errors.error[known]) == pytest.approx(0.0, abs=0.0125)


def test_a_slow_drift_between_services_is_no_scatter(make):
    plain, drifting = (against_twin(_pair(make, drift=rate)).sigma[-1] for rate in (0.0, 0.02))
    assert drifting == pytest.approx(plain, rel=0.25)


def test_without_a_twin_there_is_no_error(make):
    alone = against_twin(_pair(make).twin)
    assert len(alone.day) == 0
