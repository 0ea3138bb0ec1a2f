"""Nights: the nights on which clocks change, and whether a record's clock did.

A recorder on summer time shows no stamp in the hour that clocks skip in spring, and shows an hour twice
in autumn. One on standard time all year runs straight through both nights.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta, tzinfo

import polars as pl

_HOUR = timedelta(hours=1)


@dataclass(frozen=True)
class Rule:
    """When the clocks of a part of the world change, and a zone there for each standard offset [h]."""

    name: str
    spring: tuple[int, int]  # month, and which Sunday of it (-1 = the last)
    autumn: tuple[int, int]
    skipped: time  # first wall-clock time skipped
    repeated: time  # first wall-clock time shown twice
    zones: dict[int, str]


_AMERICA = {-5: "America/New_York", -6: "America/Chicago", -7: "America/Denver", -8: "America/Los_Angeles"}
_EUROPE = {0: "Europe/London", 1: "Europe/Berlin", 2: "Europe/Helsinki"}
RULES = (
    Rule("North American", (3, 2), (11, 1), time(2), time(1), _AMERICA),
    Rule("European", (3, -1), (10, -1), time(2), time(2), {1: _EUROPE[1], **_EUROPE}),
)
"""15 U.S.C. 260a (second Sunday of March, first Sunday of November, since 2007); Directive 2000/84/EC (last
Sundays of March and October), at the wall clock of Central Europe."""


@dataclass(frozen=True)
class Night:
    """One night of a rule, and what the record shows: True the clock changed, False it did not."""

    rule: Rule
    day: date
    changed: bool
    in_spring: bool


def told(night: Night) -> str:
    """Return what the record shows, in words."""
    rule, day = night.rule, f"{night.day.day} {night.day:%B %Y}"
    hour = rule.skipped if night.in_spring else rule.repeated
    if night.in_spring:
        return (
            f"no stamp from {hour:%H:%M} on for an hour on {day}"
            if night.changed
            else (f"stamps from {hour:%H:%M} on {day}, which summer time skips")
        )
    return (
        f"the hour from {hour:%H:%M} stands twice on {day}"
        if night.changed
        else (f"the hour from {hour:%H:%M} stands once on {day}")
    )


def changes_on(zone: tzinfo, day: date) -> bool:
    """Whether the clocks of `zone` change in the course of a day."""
    before = datetime.combine(day, time(), tzinfo=zone)
    after = datetime.combine(day + timedelta(days=1), time(), tzinfo=zone)
    return before.utcoffset() != after.utcoffset()


def standard_offset(zone: tzinfo, day: date) -> str:
    """Return the smaller of the two offsets of a day on which the clocks change, as ``-05:00``."""
    ends = (day, day + timedelta(days=1))
    return offset_text(
        min(datetime.combine(end, time(), tzinfo=zone).utcoffset() or timedelta() for end in ends)
    )


def offset_text(offset: timedelta) -> str:
    """Return an offset as ``-05:00``."""
    minutes = int(offset / timedelta(minutes=1))
    return f"{'-' if minutes < 0 else '+'}{abs(minutes) // 60:02d}:{abs(minutes) % 60:02d}"


def nights_of(walls: pl.Series) -> Iterator[Night]:
    """Yield the nights of a time change that the record covers, hour by hour on both sides."""
    known = walls.drop_nulls()
    if known.is_empty():
        return
    years = sorted(known.dt.year().unique().to_list())
    for rule in RULES:
        for year in years:
            yield from _spring(known, rule, sunday(year, *rule.spring))
            yield from _autumn(known, rule, sunday(year, *rule.autumn))


def _spring(walls: pl.Series, rule: Rule, day: date) -> Iterator[Night]:
    skipped = datetime.combine(day, rule.skipped)
    before, inside, after = (_count(walls, skipped + k * _HOUR) for k in (-1, 0, 1))
    if before >= 1 and after >= 1 and (inside or min(before, after) >= 2 or _hourly(walls, skipped)):
        yield Night(rule, day, changed=inside == 0, in_spring=True)


def _hourly(walls: pl.Series, skipped: datetime) -> bool:
    """Whether the same hour is filled on the days around: an hourly record has one stamp an hour."""
    return all(_count(walls, skipped + k * timedelta(days=1)) for k in (-1, 1))


def _autumn(walls: pl.Series, rule: Rule, day: date) -> Iterator[Night]:
    twice = datetime.combine(day, rule.repeated)
    before, inside, after = (_count(walls, twice + k * _HOUR) for k in (-1, 0, 1))
    if before and after and inside:
        yield Night(rule, day, changed=inside > 1.5 * max(before, after), in_spring=False)


def _count(walls: pl.Series, start: datetime) -> int:
    return int(((walls >= start) & (walls < start + _HOUR)).sum())


def sunday(year: int, month: int, which: int) -> date:
    """Return the first, second … or last (-1) Sunday of a month."""
    if which > 0:
        first = date(year, month, 1)
        return first + timedelta(days=(6 - first.weekday()) % 7 + 7 * (which - 1))
    last = date(year, month + 1, 1) - timedelta(days=1)
    return last - timedelta(days=(last.weekday() + 1) % 7)
