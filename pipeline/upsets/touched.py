"""Touched: the excursions of a stretch of record, each with the moment at which it was known."""

from collections.abc import Mapping
from datetime import datetime, timedelta

import numpy as np

from pipeline.case import Case
from pipeline.clock import Period
from pipeline.config.limits import Limit
from pipeline.epoch import instant_of
from pipeline.limits import instantaneous, longest_excursion, two_consecutive
from pipeline.margin import sides
from pipeline.record import Record, record
from pipeline.result import Excursion

ASSESSED = {
    "instantaneous": instantaneous,
    "longest_excursion": longest_excursion,
    "two_consecutive": two_consecutive,
}
"""Statistics whose excursions have a beginning; a day's or a month's has none."""

RECORDS_APART = 15.0
"""Two records on end are so far apart [min] (40 CFR 141.175(b))."""


def touched(
    limits: Mapping[str, Limit], cases: Mapping[str, Case], period: Period
) -> list[tuple[Excursion, datetime]]:
    """Return every excursion that overlaps a period, and when it had lasted long enough to be one."""
    found = []
    for limit in limits.values():
        if limit.statistic not in ASSESSED or limit.tag not in cases:
            continue
        held = record(cases[limit.tag], limit)
        result = ASSESSED[limit.statistic].assess(held, limit, period)
        found += [(excursion, _crossed(held, excursion)) for excursion in result.excursions]
    return found


def _needed(limit: Limit) -> float:
    """Return for how long the record must have stood outside to exceed a limit [min]."""
    if limit.statistic == "longest_excursion":
        return limit.allow or 0.0
    return RECORDS_APART if limit.statistic == "two_consecutive" else limit.min_minutes


def _crossed(held: Record, excursion: Excursion) -> datetime:
    part = held.held.between(excursion.start, excursion.end)
    side = next(side for number, side in sides(excursion.limit) if side * (excursion.worst - number) > 0)
    edge = excursion.limit.high if side > 0 else excursion.limit.low
    outside = side * (part.value - (edge or 0.0)) > 0
    minutes = np.cumsum(np.where(outside, (part.end - part.start) / 60e6, 0.0))
    needed = _needed(excursion.limit)
    at = min(int(np.searchsorted(minutes, needed)), len(minutes) - 1)
    if at < 0:
        return excursion.start
    over = max(float(minutes[at]) - needed, 0.0)
    return max(instant_of(part.end[at]) - timedelta(minutes=over), excursion.start)
