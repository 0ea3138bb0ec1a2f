"""Cli period: which period the options of a verb name."""

from datetime import date, datetime, timedelta

from pipeline.clock import Period, month_named, period_between, week_named
from pipeline.config.load import Plant
from pipeline.errors import UsageError


def period_named(
    plant: Plant, week: str | None, month: str | None, first: datetime | None, last: datetime | None
) -> Period:
    """Return the one period that the options name."""
    named = [option for option in (week, month, first or last) if option]
    if len(named) > 1:
        raise UsageError("give one of --week, --month, or --from with --to")
    try:
        if week:
            return week_named(week, plant.zone, plant.file.week_starts)
        if month:
            return month_named(month, plant.zone)
    except ValueError as error:
        raise UsageError(str(error)) from error
    if first or last:
        if not (first and last) or first > last:
            raise UsageError("--from and --to go together, the earlier day first")
        return period_between(first.date(), last.date(), plant.zone)
    return newest_week(plant)


def newest_week(plant: Plant) -> Period:
    """Return the newest complete week of the archive."""
    from pipeline.run import complete_weeks

    weeks = complete_weeks(plant)
    if not weeks:
        raise UsageError("the archive holds no complete week; run `stillwell ingest`, or name a period")
    return weeks[-1]


def week_before(plant: Plant, day: date) -> Period:
    """Return the seven days that end with `day`."""
    return period_between(day - timedelta(days=6), day, plant.zone)
