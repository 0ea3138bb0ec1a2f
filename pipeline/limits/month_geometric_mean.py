"""Month geometric mean: the nth root of the product of a calendar month's n results.

The usual mean for bacteria.
"""

from pipeline.clock import Period, months_of
from pipeline.config.limits import Limit
from pipeline.record import Record
from pipeline.result import LimitResult
from pipeline.tally.averages import geometric_between
from pipeline.tally.decide import over, result

BASES = ("trend", "lab")


def assess(record: Record, limit: Limit, period: Period) -> LimitResult:
    """Return the worst of the months that the period touches; the one not ended, so far."""

    def judge(span: Period) -> LimitResult:
        mean = geometric_between(record, limit, span.start, span.end)
        return result(record, limit, span, mean, note=f"of {mean.days} results")

    return over(months_of(period), judge)
