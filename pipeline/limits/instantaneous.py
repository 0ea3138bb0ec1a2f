"""Instantaneous: no reading beyond the limit for longer than allowed at a time."""

from pipeline.assess import excursions, minutes_in, worst_in
from pipeline.clock import Period
from pipeline.config.limits import Limit
from pipeline.margin import status
from pipeline.record import Record, compared, coverage_pct
from pipeline.result import LimitResult


def assess(record: Record, limit: Limit, period: Period) -> LimitResult:
    """Return the worst value of the period and its episodes of at least ``min_minutes``."""
    raw = worst_in(record, limit, period)
    record = compared(record, limit)
    found = excursions(record, limit, period)
    minutes = [minutes_in(record, excursion, period) for excursion in found]
    worst = worst_in(record, limit, period)
    coverage = coverage_pct(record, period.start, period.end)
    value = worst[0] if worst else None
    return LimitResult(
        limit,
        period.start,
        period.end,
        status(limit, value, bool(found), coverage, record.case.tag.unit),
        record.case.tag.unit,
        value,
        minutes_outside=sum(minutes),
        longest_minutes=max(minutes, default=0.0),
        worst=value,
        worst_at=worst[1] if worst else None,
        coverage_pct=coverage,
        excursions=tuple(found),
        raw=raw[0] if raw and limit.rounding is not None else None,
    )
