"""Company: what else of an area moved while one analyser did; together they tell of process or water."""

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from pipeline.case import Case
from pipeline.epoch import MICROSECOND

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SWITCHED = ("state", "flow", "feed", "speed")
"""What people and controllers switch."""

FOLLOWS = ("level", "pressure", "head_loss")
"""What follows from it, and moves all day: no witness."""

SHARED_BY = (("turbidity", "uv_transmittance", "uv_intensity"), ("chlorine", "orp"))
"""What the same matter in the water moves: particles, an oxidant. Common practice, no source."""

LAG_US, AT_ONCE_US = 3 * 3_600_000_000, 3_600_000_000
"""From a feed to an analyser behind a basin; from a valve to one on the same pipe. Common practice, no
source."""

USUAL_DAYS_US, WEEK_US = 28 * 86_400_000_000, 7 * 86_400_000_000
RARE, TIMES = 0.995, 2.0
"""A jump of twice this quantile of a flow's own steps is no habit; habits are in the analyser's own past."""

FEWEST = 3
"""Readings of each stretch that a median takes."""

MOVED_SHARE = 0.5
"""Of what a signal ranges over in a week (the middle nine tenths): so much at once is a move."""


def company(cases: Mapping[str, Case]) -> dict[str, tuple[Case, ...]]:
    """Return the other tags of each analyser's area that bear witness, in the config's order.

    Of a flow they are the other flow meters: what the demand does they show too.
    """
    by_area: dict[str, list[Case]] = {}
    for case in cases.values():
        if case.tag.measures not in FOLLOWS:
            by_area.setdefault(case.tag.area, []).append(case)
    return {
        name: tuple(
            one
            for one in by_area.get(case.tag.area, ())
            if one.tag.tag != name and (case.tag.measures != "flow" or one.tag.measures == "flow")
        )
        for name, case in cases.items()
        if case.tag.measures == "flow" or case.tag.measures not in (*SWITCHED, *FOLLOWS)
    }


def is_switched(case: Case, begin_us: int, back_us: int) -> bool:
    """Whether a pump, valve, flow or feed jumped when an analyser left its course or came back.

    Parameters
    ----------
    case : Case
        Of what is switched.
    begin_us, back_us : int
        The analyser's first reading off its course, and the first on it again [us since 1970].
    """
    until = back_us + case.step // MICROSECOND
    time, value = _readings(case, begin_us - USUAL_DAYS_US, until, "good")
    if len(time) < 2:
        return False
    step, at = np.abs(np.diff(value)), time[1:]
    if case.tag.is_state and bool((step[at >= back_us - AT_ONCE_US] > 0).any()):
        return True
    is_now = at >= begin_us - LAG_US
    if is_now.all() or not is_now.any():
        return False
    return float(step[is_now].max()) > TIMES * float(np.quantile(step[~is_now], RARE))


def has_moved(case: Case, begin_us: int, back_us: int, known_us: int) -> bool:
    """Whether another analyser lay off its own course meanwhile.

    Parameters
    ----------
    case : Case
        Of the other analyser.
    begin_us, back_us : int
        As in `is_switched`.
    known_us : int
        Nothing after it is looked at [us since 1970].
    """
    time, value = _readings(case, begin_us - WEEK_US, known_us, "good", "in_state")
    first, last = (int(np.searchsorted(time, at)) for at in (begin_us, back_us))
    parts = value[max(first - FEWEST, 0) : first], value[first:last], value[last:]
    if any(len(part) == 0 for part in parts):
        return False
    before, away, after = (float(np.median(part)) for part in parts)
    low, high = np.quantile(value[:first], [0.05, 0.95])
    usual = max(float(high - low), case.tag.resolution or 0.0)
    return abs(away - 0.5 * (before + after)) > MOVED_SHARE * usual


def is_same_matter(measures: str, other: str) -> bool:
    """Whether two measures see the same matter in the water."""
    return measures == other or any(measures in group and other in group for group in SHARED_BY)


def _readings(case: Case, since: int, until: int, *columns: str) -> tuple[Ints, Floats]:
    """Return the readings with ``since <= time <= until`` of which all those columns are true."""
    readings = case.readings
    every = readings["time"].to_physical().to_numpy()
    first, last = (int(np.searchsorted(every, at)) for at in (since, until + 1))
    keep = np.ones(last - first, bool)
    for name in columns:
        keep &= readings[name].slice(first, last - first).to_numpy()
    return every[first:last][keep], readings["value"].slice(first, last - first).to_numpy()[keep]
