"""Dispute: a difference between instruments that lasts beyond all their tolerances, and whom it points at.

It must be past what it strays by from day to day, too: a difference whose interval holds zero is none yet.

A difference accuses nobody. Lab grabs break the tie, or that one of them is at odds with others besides, or
that the other was serviced meanwhile and the difference went on; without any of these the instrument that
was serviced longest ago is looked at first, and the words say that it cannot be told.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.baseline.blocks import blocks_of
from pipeline.baseline.scale import on_scale, working
from pipeline.case import Case, Relation
from pipeline.epoch import date_of, day_number

LEARN_DAYS, QUARANTINE_DAYS = 365, 56
FEWEST_DAYS = 28
FIRST_DAYS = 14
"""Where so little is known yet, the first days of the record tell what is usual."""

OUT, OF = 3, 4
"""So many of so many days in a row open a dispute, and close it."""

CERTAIN = 1.96
"""Usual scatters to either side that hold 95 % of the days of a difference that is as it was."""

ATTENDS = ("calibration", "replacement", "check")
"""Services after which an instrument is right. Common practice, no source."""

RECENT_DAYS = 7
NEAR_DAYS = 3
FEWEST_GRABS = 2
CLEAR_SHARE = 0.5

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True)
class Dispute:
    """A lasting difference, as far as one instrument is the one to look at.

    Parameters
    ----------
    relation : Relation
    start, crossed, closed : date
        First day beyond, day on which it was told of this instrument, day on which it was over (None
        while it lasts).
    difference, half : float [working scale]
        Median of the newest days less what is usual, and half the width of its 95 % interval.
    allowed : float [working scale]
    suspect : str
        The tag that is looked at first, from `crossed` on.
    by : {"lab", "others", "attended", "service"}
        What decided that: grabs, that it disagrees with others besides, that all others were attended to
        and the difference goes on, or nothing better than its age.
    """

    relation: Relation
    start: date
    crossed: date
    closed: date | None
    difference: float
    half: float
    allowed: float
    suspect: str
    by: str


def disputes(relation: Relation) -> Iterator[Dispute]:
    """Yield the disputes of a relation, oldest first; one that changes its suspect is yielded anew."""
    day, off, half, allowed = _departures(relation)
    is_beyond = _is_beyond(off, half, allowed)
    for first, told, over, over_told in _spells(day, off, is_beyond):
        last = len(day) if over is None else over
        beyond = np.arange(first, last)[is_beyond[first:last]][-RECENT_DAYS:]
        whole = Dispute(
            relation=relation,
            start=date_of(day[first]),
            crossed=date_of(day[told]),
            closed=None if over is None else date_of(day[over]),
            difference=float(np.median(off[beyond])),
            half=float(half[told]),
            allowed=float(np.median(allowed[beyond])),
            suspect="",
            by="",
        )
        yield from _by_suspect(whole, None if over_told is None else date_of(day[over_told]))


def days_beyond(relation: Relation) -> frozenset[date]:
    """Return the days on which a relation is past what is allowed, or was within the two days before."""
    day, off, half, allowed = _departures(relation)
    beyond = day[_is_beyond(off, half, allowed)]
    return frozenset(date_of(one + later) for one in beyond for later in range(NEAR_DAYS))


def _departures(relation: Relation) -> tuple[Floats, Floats, Floats, Floats]:
    """Day, difference less what is usual, half of a usual day's 95 % interval, and what is allowed."""
    day, difference, allowed = _arrays(relation.days)
    usual, scatter = _usual(day, difference)
    return day, difference - usual, CERTAIN * scatter, allowed


def _is_beyond(off: Floats, half: Floats, allowed: Floats) -> Bools:
    """Whether each day is past what is allowed, and past what the difference strays anyway.

    Seen once an hour, a pump that cycles gives each day another share of its flow, however right the meter.
    """
    return np.isfinite(off) & (np.abs(off) > allowed) & (np.abs(off) > half)


def _arrays(days: pl.DataFrame) -> tuple[Floats, Floats, Floats]:
    number = days["day"].cast(pl.Int32).cast(pl.Float64).to_numpy()
    return number, days["difference"].to_numpy(), days["allowed"].to_numpy()


def _usual(day: Floats, difference: Floats) -> tuple[Floats, Floats]:
    """Return the usual difference and its scatter, for each block of four weeks by what was before it."""
    usual, scatter = (np.full(len(day), np.nan) for _ in range(2))
    for begin, here in blocks_of(day):
        known = (day < begin - QUARANTINE_DAYS) & (day >= begin - QUARANTINE_DAYS - LEARN_DAYS)
        past = difference[known] if known.sum() >= FEWEST_DAYS else difference[:FIRST_DAYS]
        if known.sum() < FEWEST_DAYS and len(difference) < FIRST_DAYS:
            continue
        usual[here] = np.median(past)
        scatter[here] = 1.4826 * np.median(np.abs(past - np.median(past)))
    # The first days cannot be held against themselves.
    usual[:FIRST_DAYS] = np.nan
    return usual, scatter


def _spells(day: Floats, off: Floats, is_beyond: Bools) -> Iterator[tuple[int, int, int | None, int | None]]:
    """Rows of first day beyond and of the day on which that was told; the same of the first day back."""
    sign = np.where(is_beyond, np.sign(off), 0.0)
    opened: tuple[int, int] | None = None
    for row in range(len(day)):
        if opened is None and not sign[row]:
            continue
        here = np.arange(max(row - OF + 1, 0), row + 1)
        here = here[day[here] > day[row] - 2 * OF]
        if opened is None and np.sum(sign[here] == sign[row]) >= OUT:
            opened = int(here[sign[here] == sign[row]][0]), row
        elif opened is not None and np.sum(sign[here] != sign[opened[1]]) >= OUT:
            back = here[(sign[here] != sign[opened[1]]) & (here > opened[0])]
            yield *opened, int(back[0]), row
            opened = None
    if opened is not None:
        yield *opened, None, None


def _by_suspect(whole: Dispute, over_told: date | None) -> Iterator[Dispute]:
    """Cut a dispute where what was learned later points at another instrument."""
    relation = whole.relation
    learned = {day for case in relation.parties for day in case.pairs["day"]}
    learned |= {day for days in relation.cornered.values() for day in days}
    learned |= {_shows_on(day) for case in relation.parties for day in case.serviced_on(ATTENDS)}
    last = over_told or relation.days["day"][-1] + timedelta(days=1)
    parts: list[Dispute] = []
    for day in [whole.crossed, *sorted(day for day in learned if whole.crossed < day < last)]:
        suspect, by = _suspect(whole, day)
        if parts and parts[-1].suspect == suspect:
            parts[-1] = replace(parts[-1], by=by)
        else:
            if parts:
                parts[-1] = replace(parts[-1], closed=day)
            parts.append(replace(whole, crossed=day, suspect=suspect, by=by))
    yield from (part for part in parts if part.suspect)


def _suspect(whole: Dispute, day: date) -> tuple[str, str]:
    """Return the tag to look at first by what was known at the end of `day`, and what tells so.

    Blank when grabs or services clear all of them.
    """
    relation = whole.relation
    able = [case for case in relation.parties if case.tag.tag not in relation.bystanders]
    words = {case.tag.tag: _lab_word(case, whole.start, day) for case in able}
    doubtful = [case for case in able if words[case.tag.tag] != "clear"]
    off = [case for case in doubtful if words[case.tag.tag] == "off"]
    left = [case for case in doubtful if not _is_attended(case, whole.crossed, day)]
    alone = [case for case in left if _is_cornered(relation, case.tag.tag, whole.crossed, day)]
    if off or len(doubtful) < min(2, len(able)):
        chosen, by = off or doubtful, "lab"
    elif len(alone) == 1:
        chosen, by = alone, "others"
    else:
        chosen, by = left, "attended" if len(left) == 1 < len(doubtful) else "service"
    first = min(chosen, key=lambda case: _last_service(case, day), default=None)
    return (first.tag.tag if first else ""), by


def _is_attended(case: Case, crossed: date, day: date) -> bool:
    """Whether somebody put an instrument right, or found it so, since then, and the dispute goes on."""
    return any(crossed <= date_of(one) and _shows_on(one) <= day for one in case.serviced_on(ATTENDS))


def _shows_on(serviced: float) -> date:
    """Day by which a service that helped would have ended a dispute."""
    return date_of(serviced + OF + 1)


def _is_cornered(relation: Relation, tag: str, crossed: date, day: date) -> bool:
    """Whether a tag was at odds with others too, lately or since the dispute began."""
    since = crossed - timedelta(days=OF)
    return any(since <= one <= day for one in relation.cornered.get(tag, ()))


def _lab_word(case: Case, start: date, day: date) -> str:
    """``off`` or ``clear`` by the grabs since `start`; blank where they do not say."""
    taken = case.pairs.filter(pl.col("day").is_between(start, day))
    error = taken.select(working(case.tag, pl.col("reading")) - working(case.tag, pl.col("grab"))).to_series()
    error = error.drop_nulls()
    if len(error) < FEWEST_GRABS:
        return ""
    level = float(taken["grab"].median() or 0.0)  # type: ignore[arg-type]
    allowed = case.tolerance_at(level)
    off = abs(float(error.median() or 0.0))  # type: ignore[arg-type]
    if allowed is None or not level:
        return ""
    share = off / on_scale(case.tag, allowed, level)
    return "off" if share > 1.0 else "clear" if share <= CLEAR_SHARE else ""


def _last_service(case: Case, day: date) -> float:
    return max((one for one in case.serviced_on() if one <= day_number(day)), default=-np.inf)
