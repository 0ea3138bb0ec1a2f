"""Assess: episodes outside a limit, the worst of a period, and the value of each of its days."""

from collections.abc import Callable
from datetime import datetime, timedelta

import numpy as np

from pipeline.clock import Period
from pipeline.config.limits import Limit
from pipeline.episodes import Episode, Held, episodes, minutes_beyond
from pipeline.epoch import instant_of
from pipeline.margin import LOWEST_COVERAGE_PCT, margin, sides, status
from pipeline.record import Record, coverage_pct
from pipeline.result import Excursion, LimitResult


def excursions(record: Record, limit: Limit, period: Period) -> list[Excursion]:
    """Episodes of the whole record that touch the period."""
    found = [
        _excursion(episode, limit, record.case.tag.unit)
        for number, side in sides(limit)
        for episode in episodes(
            record.held, number, side, limit.deadband, limit.min_minutes, limit.merge_minutes
        )
    ]
    touching = [e for e in found if e.end > period.start and e.start < period.end]
    return sorted(touching, key=lambda excursion: excursion.start)


def _excursion(episode: Episode, limit: Limit, unit: str) -> Excursion:
    return Excursion(
        limit,
        instant_of(episode.start),
        instant_of(episode.end),
        episode.minutes,
        episode.worst,
        instant_of(episode.worst_at),
        episode.area,
        unit,
        episode.minutes_unknown,
        episode.open_start,
        episode.open_end,
    )


def minutes_in(record: Record, excursion: Excursion, period: Period) -> float:
    """Minutes outside of `excursion`, on its own side of the limit, that fall into the period."""
    part = record.held.between(max(excursion.start, period.start), min(excursion.end, period.end))
    return sum(
        minutes_beyond(part, number, side)
        for number, side in sides(excursion.limit)
        if side * (excursion.worst - number) > 0
    )


def worst_in(record: Record, limit: Limit, period: Period) -> tuple[float, datetime] | None:
    """Value with the smallest margin in the period, and when it was first reached."""
    part = record.held.between(period.start, period.end)
    known = np.isfinite(part.value)
    if not known.any():
        return None
    margins = np.min([side * (number - part.value[known]) for number, side in sides(limit)], axis=0)
    at = int(np.argmin(margins))
    return float(part.value[known][at]), instant_of(part.start[known][at])


def of_days(
    record: Record, limit: Limit, period: Period, reduce: Callable[[Held], float], is_extreme: bool
) -> LimitResult:
    """Return the result of a statistic that has one value a local day: the worst day decides.

    Parameters
    ----------
    reduce : callable
        From a day's known stretches (never empty) to its value [unit].
    is_extreme : bool
        Whether a value beyond the limit stands however little of the day is known (a maximum does, a
        mean does not). Otherwise a day counts from `LOWEST_COVERAGE_PCT` known.
    """
    values = [
        (start, end, day_value(record, limit, start, end, reduce, is_extreme)) for start, end in period.days
    ]
    known = [(start, end, value) for start, end, value in values if value is not None]
    worst = min(known, key=lambda day: margin(limit, day[2]), default=None)
    unit = record.case.tag.unit
    found = tuple(_day_outside(limit, *day, unit) for day in known if margin(limit, day[2]) < 0)
    value = worst[2] if worst else None
    # A day wholly out of service, or not yet begun, asks for no value.
    asked = [day for day in values if record.held.between(*day[:2]).minutes > 0]
    covered = coverage_pct(record, period.start, period.end)
    return LimitResult(
        limit,
        period.start,
        period.end,
        status(limit, value, bool(found), min(100.0 * len(known) / max(len(asked), 1), covered), unit),
        unit,
        value,
        minutes_outside=sum(e.minutes for e in found),
        longest_minutes=max((e.minutes for e in found), default=0.0),
        worst=value,
        worst_at=worst[0] if worst else None,
        coverage_pct=covered,
        excursions=found,
        days=tuple((start, value) for start, _, value in values),
        unknown_days=tuple(start for start, _, value in asked if value is None),
    )


def day_value(
    record: Record,
    limit: Limit,
    start: datetime,
    end: datetime,
    reduce: Callable[[Held], float],
    is_extreme: bool,
) -> float | None:
    """Return a day's value [unit], None where too little of it is known; see `of_days`."""
    part = record.held.between(start, end)
    known = np.isfinite(part.value)
    if not known.any():
        return None
    value = limit.rounded(reduce(Held(part.start[known], part.end[known], part.value[known])))
    enough = 100.0 * part.known_minutes / part.minutes >= LOWEST_COVERAGE_PCT
    return value if enough or (is_extreme and margin(limit, value) < 0) else None


def _day_outside(limit: Limit, start: datetime, end: datetime, value: float, unit: str) -> Excursion:
    minutes = (end - start) / timedelta(minutes=1)
    return Excursion(limit, start, end, minutes, value, start, abs(margin(limit, value)) * minutes, unit)
