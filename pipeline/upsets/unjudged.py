"""Unjudged: tags that fell out of judgement during an upset, for what they depend on had stopped.

A reading counts only while its ``valid_when`` holds. Where that ends with a switch out of the ordinary, or
as a measured tag of the same upset leaves its usual course, the tag is missing from it for a reason that
belongs to it. An ordinary stop (a filter's backwash) is none.
"""

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

import polars as pl

from pipeline.baseline.states import condition_of
from pipeline.case import Case
from pipeline.config.plant import State
from pipeline.upsets.group import Upset
from pipeline.upsets.switches import Switch

LEAD = timedelta(hours=2)
"""A stop so long before the upset began may belong to it."""


@dataclass(frozen=True)
class Unjudged:
    """A stretch of an upset in which a tag was not judged.

    Parameters
    ----------
    tag, condition : str
        Whose ``valid_when`` did not hold; that as the config writes it, a state with its own condition.
    start : datetime
        When it ceased to hold [UTC].
    end : datetime or None
        When the tag was judged again; None where that is not known.
    """

    tag: str
    condition: str
    start: datetime
    end: datetime | None


def unjudged(
    upset: Upset, cases: Mapping[str, Case], states: Mapping[str, State], switches: Collection[Switch]
) -> list[Unjudged]:
    """Return what was not judged of the tags in `cases`, by its beginning."""
    found = [
        one
        for case in cases.values()
        if case.tag.valid_when and not case.tag.is_state
        for one in _of_tag(case, states, upset, switches)
    ]
    return sorted(found, key=lambda one: (one.start, one.tag))


def _of_tag(
    case: Case, states: Mapping[str, State], upset: Upset, switches: Collection[Switch]
) -> Iterator[Unjudged]:
    text = case.tag.valid_when
    names = condition_of(states, text)[0].names
    told = f"{text} ({states[text].when})" if text in states else text
    here = pl.col("start").is_between(upset.start - LEAD, upset.end) & ~pl.col("start").is_in(
        case.at_work["start"].implode()
    )
    for start, end in case.masked.filter(here).select("start", "end").iter_rows():
        stopped = any(one.tag in names and _ends(one, case, start, end) for one in switches if one.is_rare)
        if stopped or set(names) & set(upset.tags):
            yield Unjudged(case.tag.tag, told, start, end if end < case.as_of else None)


def _ends(one: Switch, case: Case, start: datetime, end: datetime) -> bool:
    """Tell whether a switch is what a mask began with, or says of it that it lasts too long."""
    return start <= one.time < end if one.overdue_minutes else abs(one.time - start) < case.step
