"""Day minutes: for how long each local day may stand outside the limit, in minutes (`allow`)."""

from pipeline.clock import Period
from pipeline.config.limits import Limit
from pipeline.record import Record, compared
from pipeline.result import LimitResult
from pipeline.tally.decide import worst_of
from pipeline.tally.minutes import minutes_outside

NEEDS = ("allow",)


def assess(record: Record, limit: Limit, period: Period) -> LimitResult:
    """Return the worst day of the period."""
    judged = compared(record, limit)
    days = [Period("", start, end, period.zone) for start, end in period.days]
    begun = [day for day in days if day.start < record.case.as_of] or days[:1]
    return worst_of(minutes_outside(judged, limit, day) for day in begun)
