"""Inactivation: each day's log inactivation at its peak hourly flow, and what days come to over months.

The hours are those of `pipeline.tally.hours`. A day counts where the flow of three quarters of its hours with
water is known, and its hour of highest flow has a value; a month where three quarters of its days count.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from pipeline.clock import Period, months_before
from pipeline.config.limits import Limit
from pipeline.disinfection.contact import contact_minutes
from pipeline.disinfection.giardia import required_ct
from pipeline.disinfection.virus import required_ct as virus_ct
from pipeline.epoch import epoch_us, instant_of
from pipeline.margin import LOWEST_COVERAGE_PCT, margin, status
from pipeline.record import Contact, Record
from pipeline.result import Excursion, LimitResult
from pipeline.tally.averages import Average
from pipeline.tally.hours import HOUR_US, Profile, hourly, marks_of, profile, volume_gal

MONTHS = 12


@dataclass(frozen=True)
class Day:
    """One local day: its log inactivation, None where it is not known; its peak hour; whether it is due."""

    start: datetime
    end: datetime
    value: float | None
    peak: int
    is_due: bool


def days_of(
    contacts: Sequence[Contact], days: Sequence[tuple[datetime, datetime]], as_of: datetime, is_virus: bool
) -> list[Day]:
    """Return local days on end, each judged at its hour of highest flow; those not yet begun are not due."""
    hours = profile(contacts, marks_of(days), is_virus)
    starts = [int(np.searchsorted(hours.start, epoch_us(start))) for start, _ in days]
    return [
        _day(hours, slice(first, last), begin, end, begin < as_of)
        for (begin, end), first, last in zip(days, starts, [*starts[1:], len(hours.start)], strict=True)
    ]


def _day(hours: Profile, part: slice, start: datetime, end: datetime, has_begun: bool) -> Day:
    due, flow = hours.is_due[part], hours.flow[part]
    if not due.any() or not has_begun:
        return Day(start, end, None, 0, bool(due.any()) and has_begun)
    seen = np.isfinite(flow) & due
    # The peak of a day is known only where the flow of most of it is.
    if 100.0 * seen.sum() < LOWEST_COVERAGE_PCT * due.sum():
        return Day(start, end, None, 0, True)
    at = int(np.argmax(np.where(seen, flow, -np.inf)))
    logs = float(hours.logs[part][at])
    return Day(start, end, logs if np.isfinite(logs) else None, int(hours.start[part][at]), True)


def mean_of_days(days: Sequence[Day]) -> Average:
    """Return the mean of days' inactivation [log], and how many of the days due it rests on."""
    values = [day.value for day in days if day.value is not None]
    due = sum(day.is_due for day in days)
    value = sum(values) / len(values) if values else None
    return Average(value, 100.0 * len(values) / due if due else 0.0, len(values))


def monthly(contacts: Sequence[Contact], last: Period, as_of: datetime) -> list[tuple[Period, Average]]:
    """Return the mean of Giardia's daily log inactivation in each of the twelve months up to `last`."""
    months = months_before(last, MONTHS)
    whole = Period("", months[0].start, months[-1].end, last.zone)
    days = days_of(contacts, whole.days, as_of, is_virus=False)
    return [
        (month, mean_of_days([day for day in days if month.start <= day.start < month.end]))
        for month in months
    ]


def lowest(months: Sequence[tuple[Period, Average]]) -> tuple[Period, float] | None:
    """Return the month with the lowest mean [log], the benchmark of 40 CFR 141.543; None unless all count."""
    known = [
        (month, mean.value)
        for month, mean in months
        if mean.value is not None and mean.coverage_pct >= LOWEST_COVERAGE_PCT
    ]
    return min(known, key=lambda one: one[1]) if len(known) == len(months) == MONTHS else None


def daily(record: Record, limit: Limit, period: Period, is_virus: bool) -> LimitResult:
    """Return the worst day, each judged at its hour of highest flow."""
    days = days_of(record.contacts, period.days, record.case.as_of, is_virus)
    known = [day for day in days if day.value is not None]
    due = sum(day.is_due for day in days)
    worst = min(known, key=lambda day: margin(limit, _value(day)), default=None)
    found = tuple(_outside(limit, day) for day in known if margin(limit, _value(day)) < 0)
    covered = 100.0 * len(known) / due if due else 0.0
    value = worst.value if worst else None
    return LimitResult(
        limit,
        period.start,
        period.end,
        status(limit, value, bool(found), covered, "log"),
        "log",
        value,
        minutes_outside=sum(one.minutes for one in found),
        longest_minutes=max((one.minutes for one in found), default=0.0),
        worst=value,
        worst_at=worst.start if worst else None,
        coverage_pct=covered,
        excursions=found,
        days=tuple((day.start, day.value) for day in days),
        unknown_days=tuple(day.start for day in days if day.is_due and day.value is None),
        rule="at each day's peak hourly flow",
        note=_told(record, worst, is_virus) if worst else "an input is missing, or outside the table",
    )


def _value(day: Day) -> float:
    assert day.value is not None
    return day.value


def _outside(limit: Limit, day: Day) -> Excursion:
    minutes, value = (day.end - day.start) / timedelta(minutes=1), _value(day)
    area = abs(margin(limit, value)) * minutes
    return Excursion(limit, day.start, day.end, minutes, value, instant_of(day.peak), area, "log")


def _told(record: Record, day: Day, is_virus: bool) -> str:
    """Say what a day's value rests on: the peak hour, and contact time and CT of each segment in it."""
    marks = np.array([day.peak, day.peak + HOUR_US], np.int64)
    parts = []
    for contact in record.contacts:
        hours = {what: hourly(held, marks) for what, held in contact.inputs.items()}
        segment, flow, residual = contact.segment, hours["flow"].high, hours["residual"].low
        minutes = float(contact_minutes(volume_gal(segment, hours), flow, segment.baffling_factor)[0])
        cold, ph = hours["temperature"].low, hours["ph"].high
        ask = virus_ct(cold, ph) if is_virus else required_ct(cold, ph, residual, segment.method)
        logs = "4 log virus" if is_virus else "3 log Giardia"
        reached = f"CT {minutes * float(residual[0]):.1f} of {float(ask[0]):.0f} for {logs}"
        parts.append(f"{segment.name}: T10 {minutes:.0f} min, {reached}")
    when = instant_of(day.peak).astimezone(record.case.zone)
    return f"peak hour {when:%H:%M}; {'; '.join(parts)}"
