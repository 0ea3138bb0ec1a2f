"""Consecutive: runs of two and more records on end, 15 minutes apart, beyond a limit."""

from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from pipeline.clock import Period
from pipeline.config.limits import Limit
from pipeline.episodes import Floats, Ints
from pipeline.epoch import MICROSECOND, instant_of
from pipeline.margin import sides, status
from pipeline.record import Record, coverage_pct
from pipeline.result import Excursion, LimitResult
from pipeline.tally.readings import QUARTER_HOUR, Readings, quarter_hourly

SLACK = timedelta(minutes=1)
"""Recorders do not keep the second; so much either way is still 15 minutes."""
_MINUTES = 15.0


def two_on_end(record: Record, limit: Limit, period: Period) -> LimitResult:
    """Return what pairs of records came to in a period; a pair belongs where its second record falls."""
    # The record just before the period may be the first of a pair.
    readings = quarter_hourly(record, period.start - QUARTER_HOUR - timedelta(minutes=1), period.end)
    covered = coverage_pct(record, period.start, period.end) if len(readings.time) else 0.0
    values = np.array([limit.rounded(v) if np.isfinite(v) else v for v in readings.value.tolist()], float)
    found = _runs(record, limit, Readings(readings.time, values), period)
    raw, at = _both(readings.value, readings.time, limit, period)
    value = None if raw is None else limit.rounded(raw)
    return LimitResult(
        limit,
        period.start,
        min(period.end, record.case.as_of),
        status(limit, value, bool(found), covered, record.case.tag.unit),
        record.case.tag.unit,
        value,
        minutes_outside=sum(one.minutes for one in found),
        longest_minutes=max((one.minutes for one in found), default=0.0),
        worst=value,
        worst_at=at,
        coverage_pct=covered,
        excursions=tuple(found),
        raw=raw if limit.rounding is not None else None,
        rule="in two consecutive 15-minute records",
        so_far=period.end > record.case.as_of,
    )


def is_consecutive(time: Ints) -> NDArray[np.bool_]:
    """Whether each record but the first follows the one before it by 15 minutes."""
    apart: NDArray[np.bool_] = np.abs(np.diff(time) - QUARTER_HOUR // MICROSECOND) <= SLACK // MICROSECOND
    return apart


def _both(value: Floats, time: Ints, limit: Limit, period: Period) -> tuple[float | None, datetime | None]:
    """Return the value furthest out that two records on end both reached, and when the second did."""
    second = np.array([instant_of(t) >= period.start for t in time[1:].tolist()], bool)
    pairs = is_consecutive(time) & second & np.isfinite(value[1:]) & np.isfinite(value[:-1])
    best: tuple[float, float, int] | None = None
    for number, side in sides(limit):
        reached = side * np.minimum(side * value[1:], side * value[:-1])
        if pairs.any():
            at = int(np.argmax(np.where(pairs, side * reached, -np.inf)))
            margin = side * (number - reached[at])
            if best is None or margin < best[0]:
                best = (float(margin), float(reached[at]), int(time[1:][at]))
    return (best[1], instant_of(best[2])) if best else (None, None)


def _runs(record: Record, limit: Limit, readings: Readings, period: Period) -> list[Excursion]:
    found: list[Excursion] = []
    for number, side in sides(limit):
        beyond = side * (readings.value - number)
        out = np.flatnonzero(beyond > 0)
        follows = np.append(False, is_consecutive(readings.time))
        run: list[int] = []
        for at in out.tolist():
            if run and at == run[-1] + 1 and follows[at]:
                run.append(at)
                continue
            found += _excursion(record, limit, readings, beyond, run, period)
            run = [at]
        found += _excursion(record, limit, readings, beyond, run, period)
    return sorted(found, key=lambda one: one.start)


def _excursion(
    record: Record, limit: Limit, readings: Readings, beyond: Floats, run: list[int], period: Period
) -> list[Excursion]:
    """Return a run of two and more records as an excursion; each record stands for its 15 minutes."""
    if len(run) < 2 or instant_of(readings.time[run[-1]]) < period.start:
        return []
    worst = max(run, key=lambda at: float(beyond[at]))
    return [
        Excursion(
            limit,
            instant_of(readings.time[run[0]]),
            instant_of(readings.time[run[-1]]) + QUARTER_HOUR,
            len(run) * _MINUTES,
            float(readings.value[worst]),
            instant_of(readings.time[worst]),
            float(beyond[run].sum()) * _MINUTES,
            record.case.tag.unit,
        )
    ]
