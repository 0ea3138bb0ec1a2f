"""Days outside, half-year: how many daily values of January to June, or July to December, were outside.

So water-quality parameters of corrosion control are judged (40 CFR 141.82(g)): out of compliance with more
than nine days in six months (`allow` 9); the day's value is the mean of its results, and a day without a
result has the most recent earlier one.
"""

from datetime import datetime

from pipeline.clock import Period, day_bounds, half_years_of
from pipeline.config.limits import Limit
from pipeline.margin import margin
from pipeline.record import Record
from pipeline.result import Bounds, LimitResult
from pipeline.tally.averages import NO_RULE, Average, Day, day_means, unrounded
from pipeline.tally.decide import outside_of, over, result

BASES = ("trend", "lab")
NEEDS = ("allow",)


def assess(record: Record, limit: Limit, period: Period) -> LimitResult:
    """Return the worst of the half-years that the period touches; the one not ended, so far."""
    return over(half_years_of(period), lambda half: _count(record, limit, half))


def _count(record: Record, limit: Limit, half: Period) -> LimitResult:
    days = day_means(record, limit, half.start, half.end)
    before = day_means(record, limit, _half_year_before(half), half.start)
    values = _carried([*before, *days])[len(before) :]
    outside = sum(value is not None and margin(limit, limit.rounded(value)) < 0 for value in values)
    own = [day.value is not None for day in days]
    # The lab does not sample every day, and the rule says what stands between: that is known.
    known = [value is not None for value in values] if limit.basis == "lab" else own
    due = len(days) if limit.basis == "lab" else sum(day.is_due for day in days)
    allow = limit.allow or 0.0
    # A sampled day without a value has a non-detect that nobody gave a rule for: it may be one more outside.
    unruled = limit.basis == "lab" and any(day.is_due and day.value is None for day in days)
    lacks = NO_RULE if unruled and outside <= allow else ""
    count = float(outside) if any(known) else None
    return result(
        record,
        unrounded(limit),
        half,
        Average(count, 100.0 * sum(known) / max(due, 1), sum(own), lacks),
        bounds=Bounds(high=allow, width=allow),
        unit="days",
        rule=f"with a daily value {outside_of(limit)}",
        note=f"{sum(own)} days with a result of their own",
        is_final=True,
    )


def _half_year_before(half: Period) -> datetime:
    """Return the midnight since when an earlier result still stands; an older one says nothing."""
    first = half.start.astimezone(half.zone).date()
    earlier = first.replace(month=1) if first.month > 6 else first.replace(year=first.year - 1, month=7)
    return day_bounds(earlier, half.zone)[0]


def _carried(days: list[Day]) -> list[float | None]:
    """Return each day's value, or the most recent earlier one."""
    values: list[float | None] = []
    for day in days:
        values.append(day.value if day.value is not None else (values[-1] if values else None))
    return values
