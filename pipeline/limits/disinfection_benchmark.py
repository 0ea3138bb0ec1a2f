"""Disinfection benchmark: the lowest of twelve monthly means of Giardia's log inactivation (40 CFR 141.543).

Of the twelve months that ended last, as the record has them; held against `low`, the benchmark on file with
the state. It is not known before all twelve are. It is the least of the means, not the mean of the least.
"""

from pipeline.clock import Period, months_before, months_of
from pipeline.config.limits import Limit
from pipeline.margin import LOWEST_COVERAGE_PCT
from pipeline.record import Record
from pipeline.result import LimitResult
from pipeline.tally.averages import Average
from pipeline.tally.decide import named, result
from pipeline.tally.inactivation import MONTHS, lowest, monthly

NEEDS = ("low",)
RESTS_ON_SEGMENTS = True


def assess(record: Record, limit: Limit, period: Period) -> LimitResult:
    """Return the lowest monthly mean of the year up to the last month that has ended."""
    touched = months_of(period)[-1]
    last = touched if touched.end <= record.case.as_of else months_before(touched, 2)[0]
    means = monthly(record.contacts, last, record.case.as_of)
    count = sum(mean.value is not None and mean.coverage_pct >= LOWEST_COVERAGE_PCT for _, mean in means)
    found = lowest(means)
    span = Period("", means[0][0].start, last.end, period.zone)
    told = f"lowest {named(found[0])}" if found else f"{count} of {MONTHS} months known"
    value = Average(found[1] if found else None, 100.0 * count / MONTHS, count)
    rule = "lowest of twelve monthly means of Giardia's log inactivation"
    return result(record, limit, span, value, unit="log", rule=rule, note=told)
