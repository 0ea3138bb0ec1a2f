"""Month removal: percent removed, from the means of a calendar month.

The mean of the second tag (influent) and that of the tag (effluent) are taken first, the percentage then:
not a mean of daily removals (40 CFR 133.101).
"""

from pipeline.clock import Period, months_of
from pipeline.config.limits import Limit
from pipeline.record import Record
from pipeline.result import LimitResult
from pipeline.tally.decide import over
from pipeline.tally.removal import removal

BASES = ("trend", "lab")
NEEDS = ("second_tag", "low")


def assess(record: Record, limit: Limit, period: Period) -> LimitResult:
    """Return the worst of the months that the period touches; the one not ended, so far."""
    return over(months_of(period), lambda month: removal(record, limit, month))
