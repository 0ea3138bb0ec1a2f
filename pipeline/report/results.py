"""Results: how a limit's result is told; a day's statistic has days, not minutes."""

from datetime import datetime, tzinfo

from pipeline.report.words import TIED, day_word, duration, moment, plural, scale_of
from pipeline.result import Doubt, Excursion, LimitResult
from pipeline.week import Week


def result_of(week: Week, excursion: Excursion) -> LimitResult | None:
    """Return the result that an excursion belongs to."""
    found = (result for result in week.limits if result.limit.limit_id == excursion.limit.limit_id)
    return next(found, None)


def worst_moment(result: LimitResult, zone: tzinfo) -> str:
    """Return when a limit was at its worst: the day alone for a day's statistic; empty where not known."""
    return _told(result.worst_at, zone, bool(result.days)) if result.worst_at else ""


def outside_words(result: LimitResult) -> str:
    """Return ``1 h 45 min``; of a day's statistic its days, which say nothing of hours: ``2 days``."""
    if not result.days:
        return duration(result.minutes_outside)
    return plural(sum(not found.allowance for found in result.excursions), "day")


def length_words(week: Week, excursion: Excursion) -> tuple[str, str]:
    """Return ``Outside for, 45 min``; of a day's statistic ``Outside on, 1 day``."""
    result = result_of(week, excursion)
    if result and result.days:
        return "Outside on", plural(1, "day")
    return "Outside for", duration(excursion.minutes)


def moment_word(week: Week, excursion: Excursion, instant: datetime) -> str:
    """Return an instant of an excursion: the day alone for a day's statistic."""
    result = result_of(week, excursion)
    return _told(instant, week.period.zone, bool(result and result.days))


def _told(instant: datetime, zone: tzinfo, is_day: bool) -> str:
    return day_word(instant.astimezone(zone).date()) if is_day else moment(instant, zone)


def doubt_words(week: Week, result: LimitResult) -> str:
    """Return how far its instrument may be off, and what that would make of the result; else nothing."""
    doubt = result.doubt
    if doubt is None:
        return ""
    whom = doubt.instrument if doubt.instrument == doubt.tag else f"{doubt.instrument} ({doubt.tag})"
    if doubt.error is None:
        kind = doubt.kind.replace("_", " ")
        return f"{whom} is in doubt ({kind}); how far off it is cannot be said"
    error = scale_of(week.plant.tags.get(doubt.tag), doubt.unit)
    low, high = doubt.error
    off = f"{whom} may be off by {error.signed(low)} to {error.error(high)}"
    return f"{off}; over that it would read {_reading(week, result, doubt)}"


def over_words(week: Week, result: LimitResult) -> str:
    """Return what the doubt in its instrument makes of a result, for a table; empty where there is none."""
    doubt = result.doubt
    if doubt is None:
        return ""
    if not doubt.looks:
        return f"{doubt.kind.replace('_', ' ')}; how far off cannot be said"
    return f"over its error {_reading(week, result, doubt)}"


def _reading(week: Week, result: LimitResult, doubt: Doubt) -> str:
    """Return ``0.48 to 0.61 mg/L: outside to near``."""
    edges = (result.low, result.high)
    scale = scale_of(week.plant.tags.get(result.limit.tag), result.unit)
    values = sorted(value for value, _ in doubt.looks if value is not None)
    ends = list(dict.fromkeys(scale.beside(value, edges) for value in (*values[:1], *values[-1:])))
    if len(ends) == 2:
        # Their unit stands once: behind them, or before them where it is pH.
        unit = ends[1].rpartition(TIED)[2]
        ends = [ends[0].removesuffix(TIED + unit), ends[1].removeprefix(f"pH{TIED}")]
    return f"{' to '.join(ends)}{': ' if ends else ''}{status_words(doubt)}"


def status_words(doubt: Doubt) -> str:
    """Return the statuses that the interval reaches, in the order of its values: ``outside to within``."""
    by_value = [status for _, status in sorted(look for look in doubt.looks if look[0] is not None)]
    ends = (*by_value[:1], *by_value[-1:])
    # What neither end is, such as a band left in between, is told by the best and the worst.
    reached = ends if set(ends) == set(doubt.statuses) else doubt.statuses
    return " to ".join(dict.fromkeys((reached[0], reached[-1])))
