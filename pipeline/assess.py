"""Assess: what every limit statistic needs, the held record of a tag and the words for a margin."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from typing import Any, Protocol

import numpy as np
import polars as pl

from pipeline.case import Case
from pipeline.clock import Period
from pipeline.config.disinfection import Segment
from pipeline.config.limits import Limit
from pipeline.config.tags import Tag
from pipeline.episodes import Episode, Held, episodes, held, minutes_beyond, parted
from pipeline.epoch import instant_of
from pipeline.result import Bounds, Excursion, LimitResult, LimitStatus

LOWEST_COVERAGE_PCT = 75.0
"""Share of the time in service that must be known before a limit can be called kept.
Common practice for completeness of monitoring data, no source."""

NEAR_SHARE = 0.10
"""Within this share of the limit (of the band, where there are two sides; of what a number in % leaves up to
100, where that is less) a value is called near. Common practice, no source."""

UNDER_SPAN, OVER_SPAN = 0.0125, 0.03125
"""How far past either end of its span an instrument still measures, in shares of the span: of a 4 to 20 mA
signal 3.8 to 20.5 mA is a measurement, beyond it a failure may be meant (NAMUR NE 43, from memory)."""

_BEGINNING = instant_of(0)
"""Where every record begins: the time before a tag's first reading is unknown, not left out."""


@dataclass(frozen=True)
class Contact:
    """A disinfection segment with the records of what is measured in it.

    Parameters
    ----------
    segment : Segment
    inputs : mapping of str to Held
        ``flow`` [gpm], ``residual`` [mg/L], ``ph``, ``temperature`` [degC] and, unless always full,
        ``level`` [ft]; a stuck value stands in none of them.
    """

    segment: Segment
    inputs: Mapping[str, Held]


@dataclass(frozen=True)
class Record:
    """A tag's record for judging limits.

    Parameters
    ----------
    case : Case
    held : Held
        All of it up to `Case.as_of`, masked time off the axis. A value that is no evidence that a limit was
        kept stands in it only where it lies outside: a stuck one, one that the instrument's span cannot
        hold, one of uncertain quality, one of a time of which nobody knows whether it meant anything.
    judged : DataFrame of ``time, value, good``
        The readings that `held` was made from, masked ones among them.
    second : Record or None
        Of the limit's second tag, for statistics that compare two.
    contacts : tuple of Contact
        The plant's disinfection segments, in the order of the water.
    """

    case: Case
    held: Held
    judged: pl.DataFrame = field(default_factory=pl.DataFrame)
    second: "Record | None" = None
    contacts: tuple[Contact, ...] = ()


class Sided(Protocol):
    """Anything with a number on one side or both: a limit, or the bounds of a count made by it."""

    @property
    def low(self) -> float | None: ...  # noqa: D102

    @property
    def high(self) -> float | None: ...  # noqa: D102


def record(
    case: Case, limit: Limit, second: Case | None = None, contacts: tuple[Contact, ...] = ()
) -> Record:
    """Return the record of `case` as `limit` may use it, with that of its second tag."""
    # Where two tags are compared, the limit's number is none of either: no such value can be outside.
    own = None if limit.second_tag else limit
    stands = pl.col("good") & (_sound(case.tag, own) | _outside(own))
    if not case.uncertain.is_empty():
        stands = stands | (pl.col("time").is_in(case.uncertain.implode()) & _outside(own))
    judged = case.standing(stands)
    other = record(second, limit) if second is not None else None
    return Record(case, _held(case, judged, own), judged, other, contacts)


def sound(case: Case) -> Held:
    """Return the record of `case` without what is no evidence: what a calculation may rest on."""
    if "sound" not in case.kept:
        case.kept["sound"] = _held(case, case.standing(pl.col("good") & _sound(case.tag, None)), None)
    record: Held = case.kept["sound"]
    return record


def _held(case: Case, judged: pl.DataFrame, limit: Limit | None) -> Held:
    """Return the held record; where the state is not known, only what lies outside `limit` stands."""
    record, untold = parted(held(judged, case.masked, case.hold, _BEGINNING, case.as_of), case.untold)
    if not untold.any():
        return record
    stands = np.logical_or.reduce([~untold, *_beyond(limit, record.value)])
    return replace(record, value=np.where(stands, record.value, np.nan))


def _sound(tag: Tag, limit: Limit | None) -> pl.Expr:
    """Which readings can be evidence that `limit` was kept.

    What lies beyond the span on a limit's own side stands as it is: to drop it would flatter a mean.
    """
    low, high = tag.low, tag.high
    reach = (high - low) if low is not None and high is not None else 0.0
    sound = ~pl.col("stuck")
    if low is not None and (limit is None or limit.low is None):
        sound = sound & (pl.col("value") >= low - UNDER_SPAN * reach)
    if high is not None and (limit is None or limit.high is None):
        sound = sound & (pl.col("value") <= high + OVER_SPAN * reach)
    return sound


def compared(record: Record, limit: Limit) -> Record:
    """Return the record with every value rounded as the limit's ``rounding`` says."""
    if limit.rounding is None:
        return record
    found, where = np.unique(record.held.value, return_inverse=True)
    rounded = [limit.rounded(value) if np.isfinite(value) else value for value in found.tolist()]
    return replace(record, held=replace(record.held, value=np.array(rounded, float)[where]))


def _outside(limit: Limit | None) -> pl.Expr:
    return pl.any_horizontal(pl.lit(False), *_beyond(limit, pl.col("value"))).fill_null(False)


def _beyond(limit: Limit | None, value: Any) -> list[Any]:
    """For each of the limit's numbers, which of the values of a column or an array lie beyond it."""
    return [value > number if side > 0 else value < number for number, side in sides(limit)] if limit else []


def sides(limit: Sided) -> list[tuple[float, int]]:
    """Return the limit's numbers with their sides: +1 outside is above, -1 outside is below."""
    pairs = [(limit.high, 1), (limit.low, -1)]
    return [(number, side) for number, side in pairs if number is not None]


def margin(limit: Sided, value: float) -> float:
    """Distance of `value` to the nearer side of the limit [unit]; negative is outside."""
    return min(side * (number - value) for number, side in sides(limit))


def is_near(limit: Sided, value: float, unit: str) -> bool:
    """Tell whether `value` is close to the limit, or beyond it though not for long enough to be outside."""
    return margin(limit, value) < NEAR_SHARE * _width(limit, unit)


def _width(limit: Sided, unit: str) -> float:
    if isinstance(limit, Bounds):
        return limit.width
    if limit.high is not None and limit.low is not None:
        return limit.high - limit.low
    number = abs(sides(limit)[0][0])
    # At least 85 % removed and at most 15 % left are one limit: a share may be told from either end.
    return min(number, 100.0 - number) if unit == "%" and number < 100.0 else number


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


def coverage_pct(record: Record, start: datetime, end: datetime) -> float:
    """Share of the time in service between two instants for which a reading stands [%]; 0 if none was."""
    part = record.held.between(start, min(end, record.case.as_of))
    return 100.0 * part.known_minutes / part.minutes if part.minutes > 0 else 0.0


def worst_in(record: Record, limit: Limit, period: Period) -> tuple[float, datetime] | None:
    """Value with the smallest margin in the period, and when it was first reached."""
    part = record.held.between(period.start, period.end)
    known = np.isfinite(part.value)
    if not known.any():
        return None
    margins = np.min([side * (number - part.value[known]) for number, side in sides(limit)], axis=0)
    at = int(np.argmin(margins))
    return float(part.value[known][at]), instant_of(part.start[known][at])


def status(limit: Sided, value: float | None, is_outside: bool, coverage: float, unit: str) -> LimitStatus:
    """Return the word for a result in `unit`; what is not known is never `within`."""
    if is_outside:
        return "outside"
    if value is None or coverage < LOWEST_COVERAGE_PCT:
        return "not assessable"
    return "near" if is_near(limit, value, unit) else "within"


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
