"""Four-hourly: each value that stood at a four-hour mark must lie within the limit."""

import numpy as np

from pipeline.clock import Period
from pipeline.config.limits import Limit
from pipeline.epoch import instant_of
from pipeline.margin import margin, status
from pipeline.record import Record
from pipeline.result import LimitResult
from pipeline.tally.readings import four_hourly


def assess(record: Record, limit: Limit, period: Period) -> LimitResult:
    """Return the worst of the values at 00:00, 04:00 ... 20:00 of the plant's clock."""
    marks = four_hourly(record, period.start, period.end)
    known = marks.known
    margins = [margin(limit, limit.rounded(value)) for value in known.value.tolist()]
    at = int(np.argmin(margins)) if margins else -1
    raw = float(known.value[at]) if margins else None
    value = None if raw is None else limit.rounded(raw)
    outside = int(known.beyond(limit).sum())
    return LimitResult(
        limit,
        period.start,
        period.end,
        status(limit, value, outside > 0, marks.coverage_pct, record.case.tag.unit),
        record.case.tag.unit,
        value,
        worst=value,
        worst_at=instant_of(known.time[at]) if margins else None,
        coverage_pct=marks.coverage_pct,
        raw=raw if limit.rounding is not None else None,
        note=f"{outside} of {len(known.value)} 4-hourly values outside",
    )
