"""Maxima: the mean of the daily maxima of seven days on end, dated to one of the days."""

from dataclasses import replace
from datetime import datetime, timedelta

from pipeline.assess import day_value
from pipeline.clock import Period
from pipeline.config.limits import Limit
from pipeline.record import Record
from pipeline.result import LimitResult
from pipeline.tally.averages import Day, mean_of, samples, unrounded
from pipeline.tally.decide import inside, result, windows, worst_of
from pipeline.wording import DAYS, MONTHS

WINDOW_DAYS = 7


def seven_day_maxima(record: Record, limit: Limit, period: Period, dated: timedelta) -> LimitResult:
    """Return the worst window that ends in the period.

    Parameters
    ----------
    dated : timedelta
        How long before its last day lies the day that a window's mean is dated to.
    """
    every = windows(period, WINDOW_DAYS)
    due = [span for span in every if span.end <= record.case.as_of] or every
    whole = Period("", due[0].start, due[-1].end, period.zone)
    days = [_day(record, unrounded(limit), start, end) for start, end in whole.days]
    found = []
    for span in due:
        mean = mean_of(inside(days, span), limit)
        last = inside(days, span)[-1].start.astimezone(period.zone).date()
        day = last - dated
        note = f"dated {DAYS[day.weekday()]} {day.day} {MONTHS[day.month - 1]}"
        found.append(replace(result(record, limit, span, mean, note=note), rule="mean of seven daily maxima"))
    return worst_of(found)


def _day(record: Record, limit: Limit, start: datetime, end: datetime) -> Day:
    if limit.basis == "lab":
        values, _ = samples(record, start, end)
        return Day(start, end, float(values.max()) if len(values) else None, len(values) > 0)
    value = day_value(record, limit, start, end, lambda day: float(day.value.max()), is_extreme=False)
    return Day(start, end, value, record.held.between(start, end).minutes > 0)
