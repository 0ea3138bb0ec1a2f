"""Daily max: the highest value of each local day."""

from pipeline.assess import of_days
from pipeline.clock import Period
from pipeline.config.limits import Limit
from pipeline.record import Record
from pipeline.result import LimitResult


def assess(record: Record, limit: Limit, period: Period) -> LimitResult:
    """Return the worst day."""
    return of_days(record, limit, period, lambda day: float(day.value.max()), is_extreme=True)
