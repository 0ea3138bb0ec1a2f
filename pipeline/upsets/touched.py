"""Touched: the excursions of a stretch of record, each with the moment at which it was known."""

from collections.abc import Mapping
from datetime import datetime, timedelta

import numpy as np

from pipeline.assess import Record, record, sides
from pipeline.case import Case
from pipeline.clock import Period
from pipeline.config.limits import Limit
from pipeline.epoch import instant_of
from pipeline.limits import instantaneous
from pipeline.result import Excursion

STATISTIC = "instantaneous"
"""Limits whose excursions have a beginning; a day's or a month's statistic has none."""


def touched(
    limits: Mapping[str, Limit], cases: Mapping[str, Case], period: Period
) -> list[tuple[Excursion, datetime]]:
    """Return every excursion that overlaps a period, and when it had lasted long enough to be one."""
    found = []
    for limit in limits.values():
        if limit.statistic != STATISTIC or limit.tag not in cases:
            continue
        held = record(cases[limit.tag], limit)
        result = instantaneous.assess(held, limit, period)
        found += [(excursion, _crossed(held, excursion)) for excursion in result.excursions]
    return found


def _crossed(held: Record, excursion: Excursion) -> datetime:
    part = held.held.between(excursion.start, excursion.end)
    side = next(side for number, side in sides(excursion.limit) if side * (excursion.worst - number) > 0)
    edge = excursion.limit.high if side > 0 else excursion.limit.low
    outside = side * (part.value - (edge or 0.0)) > 0
    minutes = np.cumsum(np.where(outside, (part.end - part.start) / 60e6, 0.0))
    at = min(int(np.searchsorted(minutes, excursion.limit.min_minutes)), len(minutes) - 1)
    if at < 0:
        return excursion.start
    over = max(float(minutes[at]) - excursion.limit.min_minutes, 0.0)
    return max(instant_of(part.end[at]) - timedelta(minutes=over), excursion.start)
