"""Inquiry: all that is known of one upset or one window, ready to be written down."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta, tzinfo

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.case import Case
from pipeline.finding import Finding
from pipeline.table import CALIBRATIONS, GRABS, MAINTENANCE, empty
from pipeline.upsets.doubt import Doubt
from pipeline.upsets.group import Upset
from pipeline.upsets.movers import Order
from pipeline.upsets.path import Path
from pipeline.upsets.switches import Switch
from pipeline.upsets.unjudged import Unjudged

FEW = timedelta(hours=6)
WIDEST = timedelta(days=1)


@dataclass(frozen=True)
class Alike:
    """An earlier window of the same shape.

    Parameters
    ----------
    start : datetime
        When it begins [UTC].
    score : float
        1 = the same shape in every tag.
    log : tuple of str
        What was written down then.
    """

    start: datetime
    score: float
    log: tuple[str, ...] = ()


@dataclass(frozen=True)
class Wave:
    """Departures of one tag now and in an earlier window, quarter hour by quarter hour [sd]."""

    tag: str
    now: NDArray[np.float64]
    then: NDArray[np.float64]


@dataclass(frozen=True)
class Inquiry:
    """One upset looked into; without `upset` a window that somebody asked for.

    Parameters
    ----------
    start, end : datetime
        What is drawn [UTC].
    upset : Upset or None
    order : Order
        Who moved.
    switches : tuple of Switch
        What was switched, by time.
    doubt : Doubt or None
    cases : dict of str to Case
        Every tag of the flow path, states among them.
    usual : dict of str to DataFrame
        ``time, expected, low, high`` of the tags that are drawn.
    grabs, services, maintenance : DataFrame
        What was written down in the window.
    alike : tuple of Alike
        Most alike first.
    waves : tuple of Wave
        Of the most alike, the tags that departed most.
    unjudged : tuple of Unjudged
        Tags that were not judged for part of it, because what they depend on had stopped.
    """

    start: datetime
    end: datetime
    zone: tzinfo
    path: Path
    upset: Upset | None
    order: Order
    switches: tuple[Switch, ...]
    doubt: Doubt | None
    cases: dict[str, Case]
    usual: dict[str, pl.DataFrame]
    grabs: pl.DataFrame = field(default_factory=lambda: empty(GRABS))
    services: pl.DataFrame = field(default_factory=lambda: empty(CALIBRATIONS))
    maintenance: pl.DataFrame = field(default_factory=lambda: empty(MAINTENANCE))
    findings: tuple[Finding, ...] = ()
    alike: tuple[Alike, ...] = ()
    waves: tuple[Wave, ...] = ()
    unjudged: tuple[Unjudged, ...] = ()

    @property
    def name(self) -> str:
        """Id of the upset, or the window's own."""
        return self.upset.upset_id if self.upset else f"window.{self.start:%Y-%m-%dT%H%MZ}"


def window_of(upset: Upset, as_of: datetime) -> tuple[datetime, datetime]:
    """Return what is drawn of an upset: half its length more on both sides, six hours to a day."""
    room = min(max((upset.end - upset.start) / 2, FEW), WIDEST)
    return upset.start - room, min(upset.end + room, as_of)


def drawn(order: Order, upset: Upset | None, cases: Mapping[str, Case], most: int) -> list[str]:
    """Return the tags worth drawing: those that were outside, those that moved, in the order of the water."""
    outside = [one.limit.tag for one in upset.excursions] if upset else []
    ranked = sorted(order.movers, key=lambda one: (not one.crossed, -abs(one.size), one.tag))
    chosen = list(dict.fromkeys([*order.first, *outside, *(one.tag for one in ranked)]))[:most]
    return [name for name in cases if name in chosen]


def switches_of(cases: Mapping[str, Case], every: Sequence[Switch], tags: Sequence[str]) -> list[Switch]:
    """Return the switches in the areas of `tags`, and every one that is out of the ordinary."""
    areas = {cases[tag].tag.area for tag in tags if tag in cases}
    return [one for one in every if one.is_rare or one.area in areas]
