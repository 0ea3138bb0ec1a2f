"""Results: how a limit's result is told; a day's statistic has days, not minutes."""

from datetime import datetime, tzinfo

from pipeline.report.words import day_word, moment
from pipeline.result import Excursion, LimitResult
from pipeline.week import Week


def result_of(week: Week, excursion: Excursion) -> LimitResult | None:
    """Return the result that an excursion belongs to."""
    found = (result for result in week.limits if result.limit.limit_id == excursion.limit.limit_id)
    return next(found, None)


def worst_moment(result: LimitResult, zone: tzinfo) -> str:
    """Return when a limit was at its worst: the day alone for a day's statistic; empty where not known."""
    return _told(result.worst_at, zone, bool(result.days)) if result.worst_at else ""


def moment_word(week: Week, excursion: Excursion, instant: datetime) -> str:
    """Return an instant of an excursion: the day alone for a day's statistic."""
    result = result_of(week, excursion)
    return _told(instant, week.period.zone, bool(result and result.days))


def _told(instant: datetime, zone: tzinfo, is_day: bool) -> str:
    return day_word(instant.astimezone(zone).date()) if is_day else moment(instant, zone)
