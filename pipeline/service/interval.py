"""Interval: how often an instrument wants service, from what its own services found; never beyond a rule.

The pace of each stretch between two visits is the error accrued in it over its length, in tolerances a
day. The pace that the next stretch keeps below with 95 % confidence is the upper end of Student's
prediction interval of the paces seen, ``|mean| + t(0.975, n - 1) sd sqrt(1 + 1/n)``; an error that
grows at this pace reaches the tolerance after the days suggested. Straight growth is assumed.

One stretch past the tolerance that stands apart from all others is a failure and no pace: it is told and
left out. A second one counts, and so does the first one then.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise
from math import floor, sqrt
from statistics import fmean, stdev

from pipeline.service.visits import Visit

FEWEST = 4
"""Stretches without which nothing is said. Common practice, no source."""

SHORTEST_DAYS = 3.0
"""A stretch shorter than this tells the reading error of the service and no pace [d]."""

LONGEST_DAYS = 730.0
"""Nothing longer is suggested, however steady the instrument [d]."""


APART = 3.0
"""So many times the next pace is apart from all others. Common practice, no source."""


@dataclass(frozen=True)
class Stretch:
    """The time from one visit to the next [d], and the error accrued by its end [tolerances]."""

    days: float
    accrued: float
    end: datetime | None = None

    @property
    def pace(self) -> float:
        """Error accrued a day [tolerances]."""
        return self.accrued / self.days


@dataclass(frozen=True)
class Interval:
    """What the services say of the time between them.

    Parameters
    ----------
    stretches : int
        How many it rests on.
    worst : float
        Largest error accrued in one of them [tolerances].
    usual_days : float
        Days after which the error reaches the tolerance at the usual pace (root mean square).
    borne_days : float
        The same at a pace that 19 of 20 stretches keep below: what the record bears.
    suggested_days : float
        `borne_days` in whole weeks, and never more than the plan's or the rule's days.
    held_by : {"record", "plan", "rule"}
        What it is that allows no more.
    failure : Stretch or None
        The one that was left out.
    """

    stretches: int
    worst: float
    usual_days: float
    borne_days: float
    suggested_days: float
    held_by: str
    failure: Stretch | None = None


def stretches(visits: Sequence[Visit]) -> list[Stretch]:
    """Return the stretches between visits that set the instrument right, with the error each accrued."""
    found = []
    for before, after in pairwise([visit for visit in visits if visit.restarts]):
        days = (after.time - before.time).total_seconds() / 86_400
        if after.found is None or after.found.share is None or days < SHORTEST_DAYS:
            continue
        left = before.left.share if before.left and before.left.share is not None else 0.0
        found.append(Stretch(days, after.found.share - left, after.time))
    return found


def interval(
    past: Sequence[Stretch], plan_days: float | None = None, rule_days: float | None = None
) -> Interval | None:
    """Return how often the instrument wants service; None where too few services tell.

    Parameters
    ----------
    past : sequence of Stretch
    plan_days, rule_days : float or None
        Longest interval that the plant's plan, or a rule, allows [d].
    """
    failure = _failure(past)
    kept = [stretch for stretch in past if stretch is not failure]
    if len(kept) < FEWEST:
        return None
    paces = [stretch.pace for stretch in kept]
    mean, spread, n = fmean(paces), stdev(paces), len(paces)
    fastest = abs(mean) + _student(n - 1) * spread * sqrt(1.0 + 1.0 / n)
    usual = sqrt(fmean(pace * pace for pace in paces))
    borne = min(LONGEST_DAYS, 1.0 / fastest if fastest > 0 else LONGEST_DAYS)
    allowed = {"record": whole(borne), "plan": plan_days, "rule": rule_days}
    known = {name: days for name, days in allowed.items() if days is not None}
    # The plan comes before the record where both say the same: nothing need change.
    held_by = min(known, key=lambda name: (known[name], name))
    worst = max((stretch.accrued for stretch in kept), key=abs)
    usual_days = min(LONGEST_DAYS, 1.0 / usual if usual > 0 else LONGEST_DAYS)
    return Interval(n, worst, usual_days, borne, known[held_by], held_by, failure)


def _failure(past: Sequence[Stretch]) -> Stretch | None:
    beyond = [stretch for stretch in past if abs(stretch.accrued) > 1.0]
    others = [abs(stretch.pace) for stretch in past if stretch not in beyond]
    is_apart = len(beyond) == 1 and others and abs(beyond[0].pace) > APART * max(others)
    return beyond[0] if is_apart else None


def whole(days: float) -> float:
    """Return whole weeks from a fortnight on, whole days below; rounded down, one day at least."""
    return float(7 * floor(days / 7) if days >= 14 else max(1, floor(days)))


def _student(freedom: int) -> float:
    from scipy.special import stdtrit

    return float(stdtrit(freedom, 0.975))
