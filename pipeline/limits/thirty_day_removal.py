"""Thirty-day removal: percent removed, from the means of 30 days on end.

The mean of the second tag (influent) and that of the tag (effluent) are taken first, the percentage then:
not a mean of daily removals (40 CFR 133.101).
"""

from pipeline.clock import Period
from pipeline.config.limits import Limit
from pipeline.record import Record
from pipeline.result import LimitResult
from pipeline.tally.decide import windows, worst_of
from pipeline.tally.removal import removal

BASES = ("trend", "lab")
NEEDS = ("second_tag", "low")
DAYS = 30


def assess(record: Record, limit: Limit, period: Period) -> LimitResult:
    """Return the worst of the 30 days that end with a day of the period."""
    every = windows(period, DAYS)
    due = [span for span in every if span.end <= record.case.as_of] or every
    return worst_of(removal(record, limit, span) for span in due)
