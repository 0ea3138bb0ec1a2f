"""Starts: the two records on end at four hours of each run of a filter."""

from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
import polars as pl

from pipeline.clock import Period
from pipeline.config.limits import Limit
from pipeline.epoch import epoch_us, instant_of
from pipeline.margin import LOWEST_COVERAGE_PCT, margin, sides, status
from pipeline.record import Record, coverage_pct
from pipeline.result import Excursion, LimitResult, LimitStatus
from pipeline.tally.consecutive import SLACK, is_consecutive
from pipeline.tally.readings import QUARTER_HOUR, Readings, quarter_hourly

FIRST_HOURS = timedelta(hours=4)


@dataclass(frozen=True)
class Pair:
    """Two records on end at a mark; the value that both reached, nearest to the limit or beyond it."""

    start: datetime
    value: float


def at_mark(record: Record, limit: Limit, period: Period) -> LimitResult:
    """Return what the pairs at four hours of every run came to whose mark lies in the period."""
    marks = _marks(record, period)
    readings = quarter_hourly(record, period.start - 2 * QUARTER_HOUR, period.end + 2 * QUARTER_HOUR)
    pairs = [_pair(readings, limit, mark) for mark in marks]
    known = [pair for pair in pairs if pair is not None]
    worst = min(known, key=lambda pair: margin(limit, limit.rounded(pair.value)), default=None)
    value = limit.rounded(worst.value) if worst else None
    found = [one for pair in known for one in _excursion(record, limit, pair)]
    covered = 100.0 * len(known) / len(marks) if marks else coverage_pct(record, period.start, period.end)
    word = status(limit, value, bool(found), covered, record.case.tag.unit) if marks else _idle(covered)
    return LimitResult(
        limit,
        period.start,
        min(period.end, record.case.as_of),
        word,
        record.case.tag.unit,
        value,
        minutes_outside=sum(one.minutes for one in found),
        longest_minutes=max((one.minutes for one in found), default=0.0),
        worst=value,
        worst_at=worst.start if worst else None,
        coverage_pct=covered,
        excursions=tuple(found),
        raw=worst.value if worst and limit.rounding is not None else None,
        rule="in two consecutive records at four hours of a run",
        note=f"{len(known)} of {len(marks)} runs" if marks else "no run reached four hours",
        so_far=period.end > record.case.as_of,
    )


def _idle(covered: float) -> LimitStatus:
    """Return the word where no run reached the mark: kept, if the record tells that it was so."""
    return "within" if covered >= LOWEST_COVERAGE_PCT else "not assessable"


def _marks(record: Record, period: Period) -> list[datetime]:
    until = min(period.end, record.case.as_of)
    mark = pl.col("start") + FIRST_HOURS
    runs = record.case.runs.filter((mark <= pl.col("end")) & (mark >= period.start) & (mark < until))
    return runs.select(mark)["start"].to_list()


def _pair(readings: Readings, limit: Limit, mark: datetime) -> Pair | None:
    """Return the worse of the pairs with the record at the mark; None where too little is known."""
    at = int(np.searchsorted(readings.time, epoch_us(mark + SLACK), side="right")) - 1
    if at < 1 or mark - instant_of(readings.time[at]) >= QUARTER_HOUR:
        return None
    pairs = [(one, one + 1) for one in (at - 1, at) if one + 1 < len(readings.time)]
    steps = is_consecutive(readings.time)
    told = [
        Pair(instant_of(readings.time[first]), _both(readings, limit, first, second))
        for first, second in pairs
        if steps[first] and np.isfinite(readings.value[[first, second]]).all()
    ]
    worst = min(told, key=lambda pair: margin(limit, limit.rounded(pair.value)), default=None)
    is_whole = bool(told) and told[0].start == instant_of(readings.time[at - 1])
    # Without the pair that ends at the mark, the other proves nothing unless it is outside.
    return worst if worst and (is_whole or margin(limit, limit.rounded(worst.value)) < 0) else None


def _both(readings: Readings, limit: Limit, first: int, second: int) -> float:
    """Return the value that both of two records reached on the side of the limit where they come nearest."""
    values = [float(readings.value[first]), float(readings.value[second])]
    reached = [max(values) if side < 0 else min(values) for _, side in sides(limit)]
    return min(reached, key=lambda value: margin(limit, limit.rounded(value)))


def _excursion(record: Record, limit: Limit, pair: Pair) -> list[Excursion]:
    beyond = -margin(limit, limit.rounded(pair.value))
    if beyond <= 0:
        return []
    end, minutes = pair.start + 2 * QUARTER_HOUR, 2 * (QUARTER_HOUR / timedelta(minutes=1))
    unit = record.case.tag.unit
    return [Excursion(limit, pair.start, end, minutes, pair.value, pair.start, beyond * minutes, unit)]
