"""Averages: values of days and of longer stretches, each with the share of it that is known.

A day of the recorded trend counts from `pipeline.assess.LOWEST_COVERAGE_PCT` known on; a stretch is the mean
of its days, so that a day with many readings weighs no more than another. Of the lab's samples each sampled
day is one value, their mean, and a day without a sample is not missed.

A result "less than" (a non-detect) has no one national rule; the limit's ``non_detect`` says what stands
for it. Without that word a stretch with such a result has no value.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.assess import day_value
from pipeline.clock import Period
from pipeline.config.limits import Limit
from pipeline.episodes import Held
from pipeline.record import Record

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

NO_RULE = "a result below detection, for which non_detect has no rule"


@dataclass(frozen=True)
class Day:
    """One local day: its value, None where too little is known; whether one was due at all."""

    start: datetime
    end: datetime
    value: float | None
    is_due: bool


@dataclass(frozen=True)
class Average:
    """A mean with what it rests on.

    Parameters
    ----------
    value : float or None
        None where nothing is known, or a non-detect has no rule [unit].
    coverage_pct : float
        Days known of days due; of samples, sampled days of those the limit asks for [%].
    days : int
        Days, or samples, with a value.
    lacks : str
        What the lab's results lack to be judged (``3 of 4 sampled days``); empty where they are enough.
    """

    value: float | None
    coverage_pct: float
    days: int
    lacks: str = ""


def short_of(count: int, limit: Limit, what: str = "sampled day") -> str:
    """Say how many results there are of those that the limit asks for; empty where they are enough."""
    asked = limit.at_least
    if count >= asked:
        return ""
    return f"{count} of {asked} {what}s" if asked > 1 else f"no {what}"


def substituted(values: Floats, below: Flags, rule: str | None) -> Floats | None:
    """Return values with the non-detects replaced as `rule` says; None where one is needed and not given."""
    if not below.any():
        return values
    share = {"zero": 0.0, "half": 0.5, "limit": 1.0, "median": 1.0}.get(rule or "")
    return None if share is None else np.where(below, values * share, values)


def middle(values: Floats, below: Flags) -> float:
    """Return the median, non-detects ranked lowest; of two middle ones the lower if one is a non-detect."""
    order = np.lexsort((values, ~below))
    first, second = (len(values) - 1) // 2, len(values) // 2
    low, high = values[order[first]], values[order[second]]
    return float(low if below[order[first]] else (low + high) / 2)


def samples(record: Record, start: datetime, end: datetime) -> tuple[Floats, Flags]:
    """Return the lab's results between two instants, and which of them are non-detects."""
    found = record.case.samples.filter((pl.col("time") >= start) & (pl.col("time") < end))
    return found["value"].to_numpy(), found["below"].to_numpy()


def day_means(record: Record, limit: Limit, start: datetime, end: datetime) -> list[Day]:
    """Return every local day between two midnights that had begun by `Case.as_of`, its mean not rounded."""
    period = Period("", start, min(end, record.case.as_of), record.case.zone)
    if period.end <= start:
        return []
    day = _sampled_day if limit.basis == "lab" else _recorded_day
    return [day(record, limit, begin, close) for begin, close in period.days]


def _recorded_day(record: Record, limit: Limit, start: datetime, end: datetime) -> Day:
    exact = unrounded(limit)
    value = day_value(record, exact, start, end, time_weighted, is_extreme=False)
    return Day(start, end, value, record.held.between(start, end).minutes > 0)


def _sampled_day(record: Record, limit: Limit, start: datetime, end: datetime) -> Day:
    values, below = samples(record, start, end)
    if len(values) == 0:
        return Day(start, end, None, is_due=False)
    known = substituted(values, below, limit.non_detect)
    return Day(start, end, None if known is None else float(known.mean()), is_due=True)


def unrounded(limit: Limit) -> Limit:
    """Return the limit without rounding: a mean is rounded once, at the end."""
    return limit.model_copy(update={"rounding": None})


def time_weighted(day: Held) -> float:
    """Mean of known stretches, each weighted by how long it stood [unit]."""
    return float(np.average(day.value, weights=day.end - day.start))


def mean_of(days: Sequence[Day], limit: Limit) -> Average:
    """Return the arithmetic mean of days."""
    values = [day.value for day in days if day.value is not None]
    due = sum(day.is_due for day in days)
    value = sum(values) / len(values) if values else None
    lacks = ""
    if limit.basis == "lab":
        # A sampled day without a value has a non-detect that nobody gave a rule for.
        value = value if len(values) == due else None
        lacks = short_of(due, limit) or ("" if len(values) == due else NO_RULE)
        due = limit.at_least
    return Average(value, min(100.0, 100.0 * len(values) / due) if due else 0.0, len(values), lacks)


def mean_between(record: Record, limit: Limit, start: datetime, end: datetime) -> Average:
    """Return the mean between two midnights; of samples with a non-detect their median, if so ruled."""
    if limit.basis == "lab" and limit.non_detect == "median":
        values, below = samples(record, start, end)
        if below.any():
            days = sum(day.is_due for day in day_means(record, limit, start, end))
            covered = min(100.0, 100.0 * days / limit.at_least)
            return Average(middle(values, below), covered, len(values), short_of(days, limit))
    return mean_of(day_means(record, limit, start, end), limit)


def geometric_between(record: Record, limit: Limit, start: datetime, end: datetime) -> Average:
    """Return the geometric mean of the samples, or of the recorded days, between two midnights.

    The nth root of the product of n values; a value that is not above zero has none.
    """
    if limit.basis == "trend":
        days = day_means(record, limit, start, end)
        values, coverage = (
            np.array([d.value for d in days if d.value is not None], float),
            mean_of(days, limit),
        )
    else:
        found, below = samples(record, start, end)
        known = substituted(found, below, limit.non_detect)
        values = np.array([], float) if known is None else known
        lacks = short_of(len(found), limit, "result") or (NO_RULE if known is None else "")
        coverage = Average(None, min(100.0, 100.0 * len(values) / limit.at_least), len(values), lacks)
    if len(values) == 0 or (values <= 0).any():
        return replace(coverage, value=None)
    return replace(coverage, value=float(np.exp(np.log(values).mean())))
