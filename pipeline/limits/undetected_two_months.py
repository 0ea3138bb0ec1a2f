"""Undetected, two months: share of the lab's samples without a detectable residual, in two months on end.

40 CFR 141.72(b)(3): undetectable in no more than `allow` (5) percent of the samples of each month, for any
two consecutive months. `low` is the least that the method detects; a result "less than" is none detected.
Where `second_tag` holds the heterotrophic bacteria [1/mL] of the same samples, taken at the same times, at
most 500 of them count as a detectable residual.
"""

from pipeline.clock import Period, months_before, months_of
from pipeline.config.limits import Limit
from pipeline.record import Record
from pipeline.result import Bounds, LimitResult
from pipeline.tally.averages import Average, unrounded
from pipeline.tally.decide import over, result
from pipeline.tally.undetected import Month, undetected

NEEDS = ("allow", "low")
BASES = ("lab",)


def assess(record: Record, limit: Limit, period: Period) -> LimitResult:
    """Return the lesser share of two months, up to the last that the period touches: both must be beyond."""
    return over(months_of(period), lambda month: _row(record, limit, month))


def _row(record: Record, limit: Limit, last: Period) -> LimitResult:
    before, now = (undetected(record, limit, month) for month in months_before(last, 2))
    allow = limit.allow or 0.0
    return result(
        record,
        unrounded(limit),
        last,
        _lesser(before, now, allow),
        bounds=Bounds(high=allow, width=allow),
        unit="%",
        rule="of samples without a detectable residual, in each of two months on end",
        note=f"{_told(now)}; the month before {_told(before)}",
    )


def _lesser(before: Month, now: Month, allow: float) -> Average:
    """Return the share that both months reached, and how much is known of it."""
    count = now.samples
    if now.pct is not None and now.pct <= allow:
        # Whatever the month before was, two on end are not beyond.
        lesser = min(now.pct, now.pct if before.pct is None else before.pct)
        return Average(lesser, now.coverage_pct, count, now.lacks)
    lacks = now.lacks or (f"the month before {before.lacks}" if before.lacks else "")
    if now.pct is None or before.pct is None:
        return Average(None, 0.0, count, lacks)
    return Average(min(before.pct, now.pct), min(before.coverage_pct, now.coverage_pct), count, lacks)


def _told(month: Month) -> str:
    return f"{month.without} of {month.samples} samples without" if month.samples else "no sample"
