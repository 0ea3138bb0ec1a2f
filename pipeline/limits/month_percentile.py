"""Month percentile: the value that so many percent of a calendar month's readings do not exceed.

`percentile` says which. `percentile_rule` says how it is read between two readings, as numbered by Hyndman
and Fan (1996): R6 (rank p(n+1)), R7 (rank 1 + p(n-1)) or R8 (rank p(n + 1/3) + 1/3); with many readings
they agree.
"""

import numpy as np

from pipeline.clock import Period, months_of
from pipeline.config.limits import Limit
from pipeline.episodes import Floats
from pipeline.record import Record, coverage_pct
from pipeline.result import LimitResult
from pipeline.tally.averages import Average
from pipeline.tally.decide import over, result
from pipeline.tally.readings import every

NEEDS = ("percentile",)
_RULES = {"R6": "weibull", "R7": "linear", "R8": "median_unbiased"}


def assess(record: Record, limit: Limit, period: Period) -> LimitResult:
    """Return the worst of the months that the period touches; the one not ended, so far."""

    def judge(month: Period) -> LimitResult:
        values = every(record, month.start, month.end).value
        covered = coverage_pct(record, month.start, month.end)
        value = percentile(values, limit.percentile or 0.0, limit.percentile_rule) if len(values) else None
        rule = f"at the {limit.percentile:g}th percentile ({limit.percentile_rule})"
        note = f"of {len(values)} readings"
        return result(record, limit, month, Average(value, covered, len(values)), rule=rule, note=note)

    return over(months_of(period), judge)


def percentile(values: Floats, percent: float, rule: str) -> float:
    """Return the percentile of `values` by the rule R6, R7 or R8 [unit]."""
    return float(np.percentile(values, percent, method=_RULES[rule]))  # type: ignore[call-overload]
