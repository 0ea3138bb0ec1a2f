"""Seven-day mean: the arithmetic mean of 7 days on end (40 CFR 133.101), whichever day they end on."""

from pipeline.clock import Period
from pipeline.config.limits import Limit
from pipeline.record import Record
from pipeline.result import LimitResult
from pipeline.tally.decide import rolling

BASES = ("trend", "lab")
DAYS = 7


def assess(record: Record, limit: Limit, period: Period) -> LimitResult:
    """Return the worst mean of the 7 days that end with a day of the period."""
    return rolling(record, limit, period, DAYS)
