"""Month share, four-hourly: as the month share, counted on the values that stood every four hours.

Six marks a day, at 00:00, 04:00 ... 20:00 of the plant's clock: the least that 40 CFR 141.74(c)(1) asks
for. A month of 30 days has 180 of them.
"""

from pipeline.clock import Period, months_of
from pipeline.config.limits import Limit
from pipeline.record import Record
from pipeline.result import LimitResult
from pipeline.tally.decide import over
from pipeline.tally.readings import four_hourly
from pipeline.tally.shares import share

NEEDS = ("allow",)


def assess(record: Record, limit: Limit, period: Period) -> LimitResult:
    """Return the worst of the months that the period touches; the one not ended, so far."""

    def judge(month: Period) -> LimitResult:
        marks = four_hourly(record, month.start, month.end)
        return share(record, limit, month, marks, marks.coverage_pct, "4-hourly values")

    return over(months_of(period), judge)
