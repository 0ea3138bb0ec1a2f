"""Silences: stretches without a good reading, those that many tags share told once."""

from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np
import polars as pl

from pipeline.case import Case
from pipeline.clock import Period
from pipeline.epoch import MICROSECOND, epoch_us, instant_of
from pipeline.report.words import joined, plural
from pipeline.week import Week

LEAST_MINUTES = 60.0
"""Shorter holes are left to the coverage figures [min] (common practice, no source)."""
LEAST_STEPS = 3
"""A slow tag is silent once so many readings in a row are missing."""


@dataclass(frozen=True)
class Hole:
    """One tag without a good reading from `start` to `end`.

    `bad` = it recorded, but nothing good; `refused` = so many readings of those days came and were refused.
    """

    tag: str
    start: datetime
    end: datetime
    slack: timedelta
    bad: bool
    refused: int = 0

    def beside(self, other: "Hole") -> bool:
        """Whether both began and ended together, to within two steps."""
        slack = 2 * max(self.slack, other.slack)
        near = abs(self.start - other.start) <= slack and abs(self.end - other.end) <= slack
        return near and (self.bad, self.refused > 0) == (other.bad, other.refused > 0)


@dataclass(frozen=True)
class Silence:
    """One stretch and every tag that fell silent with it."""

    start: datetime
    end: datetime
    tags: tuple[str, ...]
    bad: bool
    whose: str
    refused: int = 0

    @property
    def minutes(self) -> float:
        """How long [min]."""
        return (self.end - self.start).total_seconds() / 60


def refused_words(silence: Silence) -> str:
    """Return ``672 readings of those days were refused``."""
    verb = "was" if silence.refused == 1 else "were"
    return f"{plural(silence.refused, 'reading')} of those days {verb} refused"


def silences(week: Week) -> tuple[Silence, ...]:
    """Return the week's stretches without a good reading, by start."""
    groups: list[list[Hole]] = []
    for hole in sorted(_all_holes(week), key=lambda h: (h.start, h.end, h.tag)):
        home = next((group for group in groups if group[0].beside(hole)), None)
        if home is None:
            groups.append([hole])
        else:
            home.append(hole)
    return tuple(_silence(week, group) for group in groups)


def _silence(week: Week, group: list[Hole]) -> Silence:
    tags = tuple(name for name in week.cases if name in {hole.tag for hole in group})
    start, end = min(hole.start for hole in group), max(hole.end for hole in group)
    return Silence(start, end, tags, group[0].bad, _whose(week, tags), sum(hole.refused for hole in group))


def _whose(week: Week, tags: tuple[str, ...]) -> str:
    """Name the tags: all of the plant, all of some areas, or one by one."""
    watched = {name for name, case in week.cases.items() if _expects(case)}
    if len(tags) > 1 and watched <= set(tags):
        return f"All {len(tags)} {_kind(list(week.cases), tags)} of the plant"
    names = []
    left = list(tags)
    for area in week.plant.file.area:
        every = [name for name, case in week.cases.items() if case.tag.area == area.id]
        own = [name for name in every if name in watched]
        if len(own) > 1 and set(own) <= set(tags):
            names.append(f"all {len(own)} {_kind(every, tags)} of {area.name}")
            left = [name for name in left if name not in own]
    if len(left) > 4:
        left = [*left[:3], f"{len(left) - 3} more tags"]
    text = joined([*names, *left])
    return text[:1].upper() + text[1:] if names else text


def _kind(every: list[str], silent: tuple[str, ...]) -> str:
    """Name tags honestly where some of their neighbours record on change and did not fall silent."""
    return "tags" if set(every) <= set(silent) else "regularly recorded tags"


def _expects(case: Case) -> bool:
    return not case.tag.stands_until_the_next and not case.is_lab_alone


def _all_holes(week: Week) -> list[Hole]:
    recorded = [case for case in week.cases.values() if not case.is_lab_alone]
    found = [hole for case in recorded for hole in _holes(case, week.period)]
    return [replace(hole, refused=_refused(week, hole)) for hole in found] if week.refused else found


def _refused(week: Week, hole: Hole) -> int:
    first, last = (edge.astimezone(week.period.zone).date() for edge in (hole.start, hole.end))
    own = [one for one in week.refused if one.tag == hole.tag]
    return sum(one.readings for one in own if not one.days or any(first <= day <= last for day in one.days))


def _holes(case: Case, period: Period) -> list[Hole]:
    """Find the holes of one tag; without a step or a heartbeat it is silent only when it never spoke."""
    end = min(period.end, case.as_of)
    rows = case.readings.filter(pl.col("time").is_between(period.start, end, closed="left"))
    good = rows.filter(pl.col("good"))["time"].dt.epoch("us").to_numpy()
    if len(good) and not _expects(case):
        return []
    least = max(timedelta(minutes=LEAST_MINUTES), LEAST_STEPS * case.step)
    starts = np.append(epoch_us(_known_until(case, period)), good + case.quiet // MICROSECOND)
    ends = np.append(good, epoch_us(end))
    found = []
    for at in np.flatnonzero(ends - starts >= least // MICROSECOND):
        start, stop = instant_of(starts[at]), instant_of(ends[at])
        bad = not rows.filter(pl.col("time").is_between(start, stop, closed="left")).is_empty()
        found.append(Hole(case.tag.tag, start, stop, case.step, bad))
    return found


def _known_until(case: Case, period: Period) -> datetime:
    """Return when the value expires that stood as the period began; its start where none did."""
    before = case.readings.filter((pl.col("time") < period.start) & pl.col("good"))["time"]
    if case.tag.heartbeat_s is None or before.is_empty():
        return period.start
    last: datetime = before[-1]
    return max(period.start, last + case.quiet)
