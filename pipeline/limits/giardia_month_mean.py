"""Giardia month mean: the mean of a calendar month's daily log inactivation, each at its peak hourly flow.

Held against `low`, the benchmark on file with the state: the lowest of a year's monthly means
(40 CFR 141.543). A month below it is no exceedance by itself; it asks what changed.
"""

from pipeline.clock import Period, months_of
from pipeline.config.limits import Limit
from pipeline.record import Record
from pipeline.result import LimitResult
from pipeline.tally.decide import over, result
from pipeline.tally.inactivation import days_of, mean_of_days

NEEDS = ("low",)
RESTS_ON_SEGMENTS = True


def assess(record: Record, limit: Limit, period: Period) -> LimitResult:
    """Return the worst of the months that the period touches; the one not ended, so far."""

    def judge(month: Period) -> LimitResult:
        mean = mean_of_days(days_of(record.contacts, month.days, record.case.as_of, is_virus=False))
        rule = "mean of the days' log inactivation of Giardia"
        note = f"of {mean.days} day{'' if mean.days == 1 else 's'}"
        return result(record, limit, month, mean, unit="log", rule=rule, note=note)

    return over(months_of(period), judge)
