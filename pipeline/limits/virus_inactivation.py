"""Virus inactivation: each day's log inactivation by free chlorine at its peak hourly flow.

From the segments that plant.toml names under [[disinfection_segment]]; never more than the table reaches
(4 log).
"""

from pipeline.clock import Period
from pipeline.config.limits import Limit
from pipeline.record import Record
from pipeline.result import LimitResult
from pipeline.tally.inactivation import daily

NEEDS = ("low",)
RESTS_ON_SEGMENTS = True


def assess(record: Record, limit: Limit, period: Period) -> LimitResult:
    """Return the worst day; without segments, or without their inputs, it is not assessable."""
    return daily(record, limit, period, is_virus=True)
