"""Clock: which time zone an export's stamps keep, from their offsets and from the nights of the time change.

A recorder on summer time shows no stamp in the hour that clocks skip in spring, and shows an hour twice
in autumn. One on standard time all year runs straight through both nights. Either is evidence, of the
rule or of there being none; which zone it is no export says, so the draft is a marked guess.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta, tzinfo

import polars as pl

from pipeline.setup.guess import Guess

_OFFSET = re.compile(r"(?:Z|[+-]\d\d:?(?:\d\d)?)$")
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


def clock(texts: pl.Series, walls: pl.Series, header: str, given: str | None) -> Guess:
    """Draft the plant's ``time_zone``.

    Parameters
    ----------
    texts : Series of str
        Times as written.
    walls : Series of Datetime
        The same as shown on the recorder's clock, in file order, one a line, null where not understood.
    header : str
        What the time column is called.
    given : str or None
        The zone the user named; it stands, and what speaks against it is said.
    """
    offsets = sorted(
        {found[0] for text in texts.unique().drop_nulls() if (found := _OFFSET.search(text[10:]))}
    )
    nights = [] if offsets else list(nights_of(walls))
    if given:
        return Guess(given, _against(given, nights))
    if offsets:
        return _of_offsets(offsets)
    if re.search(r"(?<![a-z])(utc|gmt)(?![a-z])", header.lower()):
        return Guess("UTC", f"the time column is called '{header}'")
    return _of_nights(nights)


def _of_offsets(offsets: list[str]) -> Guess:
    hours = sorted({0 if text == "Z" else int(text[:3]) for text in offsets})
    if len(hours) == 1 and hours[0] == 0:
        return Guess("UTC", "stamps are UTC; days and weeks begin at the plant's midnight: give --time-zone")
    if len(hours) == 1:
        return Guess(
            f"{hours[0]:+03d}:00", f"every stamp has the offset {offsets[0]}; give --time-zone if it changes"
        )
    for rule in RULES:
        if hours[0] in rule.zones and hours[-1] - hours[0] == 1:
            return Guess(rule.zones[hours[0]], f"stamps have the offsets {' and '.join(offsets)}")
    return Guess("UTC", f"stamps have the offsets {', '.join(offsets)}: give --time-zone")


def _of_nights(nights: list[Night]) -> Guess:
    changed = [night for night in nights if night.changed]
    if changed:
        zone = next(iter(changed[0].rule.zones.values()))
        return Guess(zone, f"{_told(changed[0])}: the {changed[0].rule.name} rule; which zone no export says")
    if nights:
        told = _told(nights[0])
        return Guess(
            "UTC", f"{told}: standard time all year, or UTC; give its offset, such as --time-zone=-07:00"
        )
    return Guess("UTC", "nothing in the export tells the zone: give --time-zone")


def _told(night: Night) -> str:
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


def _against(given: str, nights: list[Night]) -> str:
    from pipeline.clock import zone_of

    zone = zone_of(given)
    for night in nights:
        if changes_on(zone, night.day) and not night.changed:
            return (
                f"as given; but {_told(night)}: a recorder on standard time all year needs its offset "
                f"({standard_offset(zone, night.day)}) as time_zone, or readings will be refused"
            )
        if night.changed and not changes_on(zone, night.day):
            return f"as given; but {_told(night)}: the recorder follows summer time"
    return "as given"


def changes_on(zone: tzinfo, day: date) -> bool:
    """Whether the clocks of `zone` change in the course of a day."""
    before = datetime.combine(day, time(), tzinfo=zone)
    after = datetime.combine(day + timedelta(days=1), time(), tzinfo=zone)
    return before.utcoffset() != after.utcoffset()


def standard_offset(zone: tzinfo, day: date) -> str:
    """Return the smaller of the two offsets of a day on which the clocks change, as ``-05:00``."""
    ends = (day, day + timedelta(days=1))
    offset = min(datetime.combine(end, time(), tzinfo=zone).utcoffset() or timedelta() for end in ends)
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
