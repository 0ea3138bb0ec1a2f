"""Week mean: the arithmetic mean of the days of a calendar week; the permit says how it begins."""

from pipeline.clock import Period, weeks_touching
from pipeline.config.limits import Limit
from pipeline.record import Record
from pipeline.result import LimitResult
from pipeline.tally.decide import mean_over

BASES = ("trend", "lab")
NEEDS = ("week_starts",)


def assess(record: Record, limit: Limit, period: Period) -> LimitResult:
    """Return the worst of the weeks that the period touches; the one not ended, so far."""
    return mean_over(record, limit, weeks_touching(period, limit.week_starts))
