"""Months in a row: in how many calendar months on end two consecutive records stood beyond the limit.

`allow` is how many are nothing yet: 2 where three months on end ask for a self-assessment, 1 where two ask
for a comprehensive evaluation (40 CFR 141.175(b)(3) and (4), 141.563). A month whose records are too few
may have been one of them: where that decides, the answer is "not assessable".
"""

from collections.abc import Sequence
from dataclasses import replace

from pipeline.clock import Period, months_before, months_of
from pipeline.config.limits import Limit
from pipeline.record import Record
from pipeline.result import Bounds, LimitResult
from pipeline.tally.averages import Average, unrounded
from pipeline.tally.consecutive import two_on_end
from pipeline.tally.decide import outside_of, over, result

NEEDS = ("allow",)


def assess(record: Record, limit: Limit, period: Period) -> LimitResult:
    """Return the count of months on end up to the last that the period touches."""
    return over(months_of(period), lambda month: _row(record, limit, month))


def _row(record: Record, limit: Limit, last: Period) -> LimitResult:
    allow = int(limit.allow or 0)
    months = [two_on_end(record, limit, month) for month in months_before(last, allow + 1)]
    words = [month.status for month in reversed(months)]
    count = _leading(words, ("outside",))
    possible = _leading(words, ("outside", "not assessable"))
    told = result(
        record,
        unrounded(limit),
        last,
        Average(count if possible <= allow or count > allow else None, months[-1].coverage_pct, count),
        bounds=Bounds(high=allow, width=0.0),
        unit="months",
        rule=f"on end with two consecutive records {outside_of(limit)}",
        note="" if count == possible else "an earlier month cannot be assessed",
        is_final=True,
    )
    return replace(told, excursions=months[-1].excursions if told.status == "outside" else ())


def _leading(words: Sequence[str], wanted: tuple[str, ...]) -> int:
    count = 0
    for word in words:
        if word not in wanted:
            break
        count += 1
    return count
