"""Month mean: the arithmetic mean of the days of each calendar month.

The highest mean of a calendar month's daily values that is allowed is what 40 CFR 122.2 calls an average
monthly discharge limitation.
"""

from pipeline.clock import Period, months_of
from pipeline.config.limits import Limit
from pipeline.record import Record
from pipeline.result import LimitResult
from pipeline.tally.decide import mean_over

BASES = ("trend", "lab")


def assess(record: Record, limit: Limit, period: Period) -> LimitResult:
    """Return the worst of the months that the period touches; the one not ended, so far."""
    return mean_over(record, limit, months_of(period))
