"""Seven-day max, centred: the mean of seven daily maxima, of the day itself, three before and three after.

Both the centred and the trailing window are in use (from memory: state water-quality standards); the permit
says which.
"""

from datetime import timedelta

from pipeline.clock import Period
from pipeline.config.limits import Limit
from pipeline.record import Record
from pipeline.result import LimitResult
from pipeline.tally.maxima import seven_day_maxima

BASES = ("trend", "lab")

DATED = timedelta(days=3)
"""How long before the window's last day lies the day that its mean is dated to."""


def assess(record: Record, limit: Limit, period: Period) -> LimitResult:
    """Return the worst of the windows that became whole in the period."""
    return seven_day_maxima(record, limit, period, DATED)
