"""Week geometric mean: the nth root of the product of a calendar week's n results."""

from pipeline.clock import Period, weeks_touching
from pipeline.config.limits import Limit
from pipeline.record import Record
from pipeline.result import LimitResult
from pipeline.tally.averages import geometric_between
from pipeline.tally.decide import over, result

BASES = ("trend", "lab")
NEEDS = ("week_starts",)


def assess(record: Record, limit: Limit, period: Period) -> LimitResult:
    """Return the worst of the weeks that the period touches; the one not ended, so far."""

    def judge(span: Period) -> LimitResult:
        mean = geometric_between(record, limit, span.start, span.end)
        return result(record, limit, span, mean, note=f"of {mean.days} results")

    return over(weeks_touching(period, limit.week_starts), judge)
