"""Margins: how far inside a limit each of the last weeks stayed, and the plain trend of that.

Only for statistics of the report's own week: a month so far is not comparable from week to week. The trend is
a straight line by least squares with its 95 % interval; it says how the margin moved, not how it will.
"""

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
import polars as pl

from pipeline.clock import Period
from pipeline.config.limits import Limit
from pipeline.margin import margin
from pipeline.record import Contact, Record
from pipeline.result import LimitResult, Trend

WEEKS = 8
_FEWEST = 6
"""Known weeks that a line takes: five say next to nothing."""
_LOOK_BACK = timedelta(days=40)
"""So much of the record before a week is looked at again; what a statistic of a week needs, with room."""

Assess = Callable[[Record, Limit, Period], LimitResult]


def with_margins(
    result: LimitResult, record: Record, limit: Limit, period: Period, assess: Assess
) -> LimitResult:
    """Return the result with the margins of the eight weeks before it and its own, oldest first."""
    is_week = period.end - period.start < timedelta(days=8)
    if not is_week or result.period_start != period.start or result.so_far:
        return result
    earlier = [_before(period, weeks) for weeks in range(WEEKS, 0, -1)]
    known = [_margin(assess(_cut(record, week), limit, week)) for week in earlier]
    margins = (*known, _margin(result))
    return replace(result, margins=margins, trend=trend(margins))


def _before(period: Period, weeks: int) -> Period:
    """Return the period so many weeks earlier, from midnight to midnight."""
    start, end = (_shifted(moment, weeks, period) for moment in (period.start, period.end))
    return Period("", start, end, period.zone)


def _shifted(moment: datetime, weeks: int, period: Period) -> datetime:
    local = moment.astimezone(period.zone)
    # Wall clock less weeks is midnight again, on both sides of a change of the clocks.
    return (local - timedelta(weeks=weeks)).astimezone(period.start.tzinfo)


def _cut(record: Record, week: Period) -> Record:
    """Return the record as it reached to the end of `week`."""
    begin = week.start - _LOOK_BACK
    here = pl.col("time").is_between(begin, week.end, closed="left")
    return Record(
        replace(record.case, as_of=week.end),
        record.held.between(begin, week.end),
        record.judged.filter(here),
        _cut(record.second, week) if record.second else None,
        tuple(
            Contact(one.segment, {what: held.between(begin, week.end) for what, held in one.inputs.items()})
            for one in record.contacts
        ),
    )


def _margin(result: LimitResult) -> float | None:
    if result.value is None or result.status == "not assessable":
        return None
    return margin(result.bounds or result.limit, result.value)


def trend(margins: tuple[float | None, ...]) -> Trend | None:
    """Return the slope of weekly margins by least squares [unit/week] with its 95 % interval.

    None where fewer than six weeks are known, or all are the same.
    """
    from scipy.special import stdtrit

    week = np.array([k for k, value in enumerate(margins) if value is not None], float)
    value = np.array([value for value in margins if value is not None], float)
    if len(value) < _FEWEST or np.ptp(value) == 0:
        return None
    apart = week - week.mean()
    slope = float(apart @ value / (apart @ apart))
    rest = value - value.mean() - slope * apart
    free = len(value) - 2
    half = float(stdtrit(free, 0.975)) * float(np.sqrt(rest @ rest / free / (apart @ apart)))
    return Trend(slope, slope - half, slope + half)
