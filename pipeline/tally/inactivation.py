"""Inactivation: log inactivation hour by hour from the trends, and each day's at its peak hourly flow.

Within an hour the worst of each input counts: the highest flow, the lowest level, residual and temperature,
the highest pH. An hour of which less than three quarters of any input is known, or whose pH lies outside
the table, has no value; an hour in which no water flows asks for none. Segments add up.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from pipeline.assess import LOWEST_COVERAGE_PCT, Contact, Record, instant, margin, sound, status
from pipeline.calculations import ct, virus_log
from pipeline.case import Case
from pipeline.clock import Period
from pipeline.config.disinfection import Segment
from pipeline.config.limits import Limit
from pipeline.disinfection.contact import MOST_GIARDIA_LOGS, contact_minutes, giardia_logs
from pipeline.disinfection.giardia import required_ct
from pipeline.disinfection.virus import MOST_LOGS
from pipeline.disinfection.virus import required_ct as virus_ct
from pipeline.episodes import Floats, Held, Ints
from pipeline.result import Excursion, LimitResult
from pipeline.units import conversion

_EPOCH = datetime.fromisoformat("1970-01-01T00:00:00+00:00")
_HOUR_US = 3_600_000_000


def contacts(segments: Iterable[Segment], cases: Mapping[str, Case]) -> tuple[Contact, ...]:
    """Return the segments with the records of their tags, in the units they are reckoned in."""
    return tuple(
        Contact(
            segment,
            {what: _in_unit(cases[name], unit) for what, (name, unit) in segment.units.items()},
        )
        for segment in segments
    )


def _in_unit(case: Case, unit: str) -> Held:
    record = sound(case)
    factor, offset = conversion(case.tag.unit, unit)
    return Held(record.start, record.end, record.value * factor + offset)


@dataclass(frozen=True)
class Hours:
    """One input hour by hour: extremes and mean of what is known, and how much that is.

    Parameters
    ----------
    low, high, mean : (n,) arrays
        NaN where less than three quarters of the hour's time in service is known.
    is_due : (n,) array of bool
        Whether any of the hour was in service.
    """

    low: Floats
    high: Floats
    mean: Floats
    is_due: NDArray[np.bool_]


def hourly(record: Held, marks: Ints) -> Hours:
    """Return a record between consecutive `marks` [microseconds since 1970, UTC]."""
    count = len(marks) - 1
    first, last = record.start.clip(marks[0], marks[-1]), record.end.clip(marks[0], marks[-1])
    edges = np.unique(np.concatenate([first, last, marks]))
    begin, lasts = edges[:-1], np.diff(edges)
    row = np.searchsorted(record.start, begin, side="right") - 1
    on_axis = (row >= 0) & (begin < record.end[np.maximum(row, 0)]) if len(record.end) else begin < 0
    hour, lasts = np.searchsorted(marks, begin[on_axis], side="right") - 1, lasts[on_axis]
    value = record.value[row[on_axis]]
    known = np.isfinite(value)
    due = np.bincount(hour, lasts, count)
    told = np.bincount(hour[known], lasts[known], count)
    low, high = np.full(count, np.inf), np.full(count, -np.inf)
    np.minimum.at(low, hour[known], value[known])
    np.maximum.at(high, hour[known], value[known])
    total = np.bincount(hour[known], lasts[known] * value[known], count)
    enough = (due > 0) & (100.0 * told >= LOWEST_COVERAGE_PCT * due)
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = np.where(enough, total / told, np.nan)
    return Hours(np.where(enough, low, np.nan), np.where(enough, high, np.nan), mean, due > 0)


@dataclass(frozen=True)
class Profile:
    """Log inactivation hour by hour.

    Parameters
    ----------
    start : (n,) array of int [microseconds since 1970, UTC]
    logs : (n,) array [log]
        Capped at what the table reaches; NaN where an input is missing or outside the table.
    flow : (n,) array [gpm]
        Mean flow through the last segment.
    is_due : (n,) array of bool
        Whether water flowed, or may have: an hour of unknown flow is due.
    """

    start: Ints
    logs: Floats
    flow: Floats
    is_due: NDArray[np.bool_]


def profile(of: Sequence[Contact], start: datetime, end: datetime, is_virus: bool) -> Profile:
    """Return the inactivation of all segments together for each hour between two instants."""
    marks = np.arange((start - _EPOCH) // timedelta(microseconds=1), _us(end) + 1, _HOUR_US, dtype=np.int64)
    parts, flow = [], np.zeros(len(marks) - 1)
    is_due = np.zeros(len(marks) - 1, bool)
    for contact in of:
        hours = {what: hourly(record, marks) for what, record in contact.inputs.items()}
        flow = hours["flow"].mean
        # A flow of which nothing is known may have been one.
        is_due = hours["flow"].is_due & ~(hours["flow"].high <= 0)
        parts.append(_segment_logs(contact.segment, hours, is_virus))
    most = MOST_LOGS if is_virus else MOST_GIARDIA_LOGS
    logs = np.minimum(np.sum(parts, axis=0), most) if parts else np.full(len(marks) - 1, np.nan)
    return Profile(marks[:-1], logs, flow, is_due)


def _segment_logs(segment: Segment, hours: Mapping[str, Hours], is_virus: bool) -> Floats:
    flow, residual = hours["flow"].high, hours["residual"].low
    temperature, ph = hours["temperature"].low, hours["ph"].high
    # The lowest pH matters where it leaves the table on the other side.
    inside = hours["ph"].low >= 6.0
    volume = _volume(segment, hours)
    value = ct.calculate(residual, volume, flow, segment.baffling_factor)
    if is_virus:
        # Giardia's table ends at pH 9, and no credit is taken where one of the two has none.
        logs = np.where(ph <= 9.0, virus_log.calculate(value, temperature, ph), np.nan)
    else:
        logs = giardia_logs([value / required_ct(temperature, ph, residual, segment.method)])
    return np.where(inside, logs, np.nan)


def _volume(segment: Segment, hours: Mapping[str, Hours]) -> Floats:
    if segment.gallons is not None:
        return np.full(len(hours["flow"].high), segment.gallons)
    level = np.maximum(hours["level"].low, 0.0)
    return segment.gallons_at_zero + level * (segment.gallons_per_foot or 0.0)


def _us(moment: datetime) -> int:
    return (moment - _EPOCH) // timedelta(microseconds=1)


@dataclass(frozen=True)
class _Day:
    start: datetime
    end: datetime
    value: float | None
    peak: int
    is_due: bool


def daily(record: Record, limit: Limit, period: Period, is_virus: bool) -> LimitResult:
    """Return the worst day, each judged at its hour of highest flow."""
    days = [_day(record, period, start, end, is_virus) for start, end in period.days]
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
        status(limit, value, bool(found), covered),
        "log",
        value,
        minutes_outside=sum(one.minutes for one in found),
        longest_minutes=max((one.minutes for one in found), default=0.0),
        worst=value,
        worst_at=worst.start if worst else None,
        coverage_pct=covered,
        excursions=found,
        days=tuple((day.start, day.value) for day in days),
        rule="at each day's peak hourly flow",
        note=_told(record, worst, is_virus) if worst else "an input is missing, or outside the table",
    )


def _day(record: Record, period: Period, start: datetime, end: datetime, is_virus: bool) -> _Day:
    hours = profile(record.contacts, start, end, is_virus)
    due = hours.is_due
    if not due.any() or start >= record.case.as_of:
        return _Day(start, end, None, 0, bool(due.any()))
    seen = np.isfinite(hours.flow) & due
    # The peak of a day is known only where the flow of most of it is.
    if 100.0 * seen.sum() < LOWEST_COVERAGE_PCT * due.sum():
        return _Day(start, end, None, 0, True)
    at = int(np.argmax(np.where(seen, hours.flow, -np.inf)))
    logs = float(hours.logs[at])
    return _Day(start, end, logs if np.isfinite(logs) else None, int(hours.start[at]), True)


def _value(day: _Day) -> float:
    assert day.value is not None
    return day.value


def _outside(limit: Limit, day: _Day) -> Excursion:
    minutes, value = (day.end - day.start) / timedelta(minutes=1), _value(day)
    area = abs(margin(limit, value)) * minutes
    return Excursion(limit, day.start, day.end, minutes, value, instant(day.peak), area, "log")


def _told(record: Record, day: _Day, is_virus: bool) -> str:
    """Say what a day's value rests on: the peak hour, and contact time and CT of each segment in it."""
    marks = np.array([day.peak, day.peak + _HOUR_US], np.int64)
    parts = []
    for contact in record.contacts:
        hours = {what: hourly(held, marks) for what, held in contact.inputs.items()}
        segment, flow, residual = contact.segment, hours["flow"].high, hours["residual"].low
        minutes = float(contact_minutes(_volume(segment, hours), flow, segment.baffling_factor)[0])
        cold, ph = hours["temperature"].low, hours["ph"].high
        ask = virus_ct(cold, ph) if is_virus else required_ct(cold, ph, residual, segment.method)
        logs = "4 log virus" if is_virus else "3 log Giardia"
        reached = f"CT {minutes * float(residual[0]):.1f} of {float(ask[0]):.0f} for {logs}"
        parts.append(f"{segment.name}: T10 {minutes:.0f} min, {reached}")
    when = instant(day.peak).astimezone(record.case.zone)
    return f"peak hour {when:%H:%M}; {'; '.join(parts)}"
