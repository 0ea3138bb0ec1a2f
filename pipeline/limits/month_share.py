"""Month share: so much of a calendar month's readings must lie within the limit.

Every good reading of the record counts once. `allow` is the least share within [%], 95 in the turbidity
rule (40 CFR 141.173(a)(1), 141.551(a)).
"""

from pipeline.clock import Period, months_of
from pipeline.config.limits import Limit
from pipeline.record import Record, coverage_pct
from pipeline.result import LimitResult
from pipeline.tally.decide import over
from pipeline.tally.readings import every
from pipeline.tally.shares import share

NEEDS = ("allow",)


def assess(record: Record, limit: Limit, period: Period) -> LimitResult:
    """Return the worst of the months that the period touches; the one not ended, so far."""

    def judge(month: Period) -> LimitResult:
        readings = every(record, month.start, month.end)
        return share(record, limit, month, readings, coverage_pct(record, month.start, month.end), "readings")

    return over(months_of(period), judge)
