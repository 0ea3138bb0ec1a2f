"""A tag's record judged by one limit."""

from dataclasses import replace
from datetime import timedelta
from types import SimpleNamespace

import numpy as np
import polars as pl
import pytest

from pipeline import limits
from pipeline.clock import period_between
from pipeline.facts import SAMPLES
from pipeline.parts import parts
from pipeline.record import record


@pytest.fixture(scope="session")
def judged(make):
    """Assess one statistic over the local days `first` to `last`."""

    def assess(statistic, frame, first, last, masked=None, as_of=None, tag=None, **limit):
        case = make.case(frame, tag=tag, masked=masked, as_of=as_of)
        return by_case(statistic, case, first, last, **limit)

    def by_case(statistic, case, first, last, second=None, contacts=(), **limit):
        row = make.limit(statistic=statistic, **limit)
        period = period_between(first, last, make.zone)
        return parts(limits)[statistic].assess(record(case, row, second, contacts), row, period)

    assess.by_case = by_case

    return assess


@pytest.fixture(scope="session")
def sampled(make):
    """Return a case of lab results alone: {date or (date, hour): value or "<value"}, known until `as_of`."""

    def case_of(results, as_of, **tag):
        rows = []
        for when, told in results.items():
            day, hour = when if isinstance(when, tuple) else (when, 8)
            text = str(told)
            rows.append(
                {
                    "time": make.local(day.year, day.month, day.day, hour),
                    "value": float(text.removeprefix("<")),
                    "below": text.startswith("<"),
                }
            )
        frame = make.frame(make.grid(make.local(2020, 1, 1), 1)[:1], [0.0], good=False)
        case = make.case(frame, tag=make.tag(**tag) if tag else None, as_of=as_of)
        samples = pl.DataFrame(rows, schema=SAMPLES).sort("time")
        return replace(case, samples=samples.filter(pl.col("time") < as_of))

    return case_of


@pytest.fixture(scope="session")
def month(make):
    """A steady record over whole local days, first to last, with some readings replaced."""

    def frame_of(first, last, level=0.05):
        days = (last - first).days + 1
        start, end = make.local(first.year, first.month, first.day), last + timedelta(days=1)
        hours = (make.local(end.year, end.month, end.day) - start) / timedelta(hours=1)
        times = make.grid(start, hours / 24)
        value = level + np.abs(np.random.default_rng(days).normal(0, level / 30, len(times)))
        return SimpleNamespace(times=times, value=value, frame=lambda **k: make.frame(times, value, **k))

    return frame_of


@pytest.fixture(scope="session")
def lively(make):
    """A turbidity-like record of three local days from `first`, never the same twice."""

    def record_of(first, days=3, level=0.05):
        start = make.local(first.year, first.month, first.day)
        times = make.grid(start, days)
        return SimpleNamespace(
            times=times, value=level + np.abs(np.random.default_rng(1).normal(0, 0.02, len(times)))
        )

    return record_of
