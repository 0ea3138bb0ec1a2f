"""A tag's record judged by one limit."""

from types import SimpleNamespace

import pytest

from pipeline import limits
from pipeline.assess import record
from pipeline.clock import period_between
from pipeline.parts import parts


@pytest.fixture(scope="session")
def judged(make):
    """Assess one statistic over the local days `first` to `last`."""

    def assess(statistic, frame, first, last, masked=None, as_of=None, tag=None, **limit):
        case = make.case(frame, tag=tag, masked=masked, as_of=as_of)
        row = make.limit(statistic=statistic, **limit)
        period = period_between(first, last, make.zone)
        return parts(limits)[statistic].assess(record(case, row), row, period)

    return assess


@pytest.fixture(scope="session")
def lively(make):
    """A turbidity-like record of three local days from `first`, never the same twice."""

    def record_of(first, days=3, level=0.05):
        import numpy as np

        start = make.local(first.year, first.month, first.day)
        times = make.grid(start, days)
        return SimpleNamespace(
            times=times, value=level + np.abs(np.random.default_rng(1).normal(0, 0.02, len(times)))
        )

    return record_of
