"""Running annual average: the mean of twelve monthly averages, computed every quarter.

So a maximum residual disinfectant level is judged (40 CFR 141.133(c)(1)(i)): a single high value, or
a high month, is not outside by itself.
"""

from dataclasses import replace

from pipeline.clock import Period, months_before, months_of, quarters_of
from pipeline.config.limits import Limit
from pipeline.margin import LOWEST_COVERAGE_PCT
from pipeline.record import Record
from pipeline.result import LimitResult
from pipeline.tally.averages import Average, mean_between, unrounded
from pipeline.tally.decide import over, result

BASES = ("trend", "lab")
MONTHS = 12


def assess(record: Record, limit: Limit, period: Period) -> LimitResult:
    """Return the average of the year up to each quarter that the period touches; so far: up to this month."""

    def judge(quarter: Period) -> LimitResult:
        begun = [month for month in months_of(quarter) if month.start < record.case.as_of]
        year = months_before(begun[-1], MONTHS)
        span = Period("", year[0].start, begun[-1].end, period.zone)
        known = [_month(record, unrounded(limit), month) for month in year]
        values = [value for value in known if value is not None]
        value = sum(values) / len(values) if values else None
        average = Average(value, 100.0 * len(values) / MONTHS, len(values))
        told = result(record, limit, span, average, note=f"of {len(values)} monthly averages")
        return replace(told, so_far=quarter.end > record.case.as_of)

    return over([q for q in quarters_of(period) if q.start < record.case.as_of], judge)


def _month(record: Record, limit: Limit, month: Period) -> float | None:
    average = mean_between(record, limit, month.start, month.end)
    enough = average.coverage_pct >= LOWEST_COVERAGE_PCT and not average.lacks
    return average.value if enough else None
