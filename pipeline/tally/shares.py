"""Shares: how much of the readings of a stretch lies within a limit."""

import numpy as np

from pipeline.clock import Period
from pipeline.config.limits import Limit
from pipeline.record import Record
from pipeline.result import Bounds, LimitResult
from pipeline.tally.averages import Average, unrounded
from pipeline.tally.decide import exact, result
from pipeline.tally.readings import Readings


def share(
    record: Record, limit: Limit, span: Period, readings: Readings, coverage_pct: float, what: str
) -> LimitResult:
    """Return the share of `readings` within the limit [%], held against the limit's ``allow``.

    Parameters
    ----------
    coverage_pct : float
        How much of the readings due there is [%].
    what : str
        What is counted, in words.
    """
    known = readings.known
    count, outside = len(known.value), int(known.beyond(limit).sum())
    # One division of whole numbers: 171 of 180 is 95 exactly.
    within_pct = 100 * (count - outside) / count if count else None
    least_pct = limit.allow or 0.0
    due = count if coverage_pct <= 0 else max(count, round(100.0 * count / coverage_pct))
    # Outside for good once even the readings that are missing, all inside, could not mend it.
    is_final = outside > 0 and 100 * (due - outside) / due < least_pct
    worst = _worst(known, limit)
    return result(
        record,
        unrounded(limit),
        span,
        Average(within_pct, coverage_pct, count),
        bounds=Bounds(low=least_pct, width=100.0 - least_pct),
        unit="%",
        rule=f"of {what} {exact(limit)}",
        note=f"{outside} of {count} {what} outside{worst}",
        is_final=is_final,
    )


def _worst(known: Readings, limit: Limit) -> str:
    if len(known.value) == 0:
        return ""
    ends = []
    if limit.high is not None:
        ends.append(f"highest {np.max(known.value):.4g}")
    if limit.low is not None:
        ends.append(f"lowest {np.min(known.value):.4g}")
    return f"; {', '.join(ends)}"
