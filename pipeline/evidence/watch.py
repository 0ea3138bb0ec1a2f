"""Watch: day by day, is there a drift that matters; opened, measured and closed by rules.

The watch walks through the errors once, in time, and at every value knows only what came before it:

* An EWMA of the errors, restarted at every service, raises suspicion.
* A suspicion that a second day bears out opens a spell when the estimated error is past the
  tolerance, or will be before the next service is due, with 95 % confidence. Certainty alone opens
  nothing: every instrument wanders.
* With only its own history to go by, a spell must also have lasted `wait_days` and look like a ramp:
  a level that jumped and stayed may be the water.
* A service closes the spell; so do 14 quiet days.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from pipeline.evidence.errors import Errors
from pipeline.spc.ewma import ewma, ewma_sigma
from pipeline.spc.onset import Course, course
from pipeline.spc.robust import without_spikes

Floats = NDArray[np.float64]

CLIP_SIGMA = 6.0
QUIET_SHARE = 0.7
QUIET_DAYS = 14.0
ONE_SIDED_95 = 1.645
FEWEST = 4
"""Errors that a segment must hold before its course is estimated."""

RAMP_SHARE = 0.9
"""Probability of a ramp that one sensor alone must show. It tells a drift from a shift of the water better
than a longer wait: at 0.5 and 14 days .58 of drifts of 0.05 pH a week and its like were found in 56 days and
.23 of lasting shifts blamed; at 0.9 and 5 days .71 and .08 (`benchmarks.detection`, family B)."""


@dataclass(frozen=True)
class Spell:
    """A drift that matters, from the day its evidence sufficed.

    Parameters
    ----------
    crossed : float
        Day on which what was known first sufficed [days since 1970-01-01].
    closed : float or None
        Day on which it was over; None while it lasts.
    course : Course
        Estimated from all that is known of it now.
    is_past : bool
        Whether the error is now past the tolerance with 95 % confidence.
    count : int
        Errors since the segment began.
    """

    crossed: float
    closed: float | None
    course: Course
    is_past: bool
    count: int


@dataclass(frozen=True)
class Bar:
    """What makes a drift matter.

    Parameters
    ----------
    tolerance : callable
        From a day to the admissible error on that day [working scale].
    horizon : callable
        From a day to the days until the next service is due.
    services : sequence of float
        Days of services, ascending.
    wait_days : float
        How long a suspicion must have lasted; above 0 it must also be a ramp beyond `RAMP_SHARE`.
    """

    tolerance: Callable[[float], float]
    horizon: Callable[[float], float]
    services: Sequence[float]
    wait_days: float = 0.0


def spells(errors: Errors, bar: Bar) -> list[Spell]:
    """Return the spells of drift, oldest first; only the last may be open."""
    found: list[Spell] = []
    edges = [-np.inf, *bar.services, np.inf]
    for begin, end in pairwise(edges):
        here = (errors.day > begin) & (errors.day < end) & np.isfinite(errors.error / errors.sigma)
        segment = _Segment(errors, np.flatnonzero(here), bar)
        found += segment.spells(end if np.isfinite(end) else None)
    return found


class _Segment:
    """The errors from one service to the next."""

    def __init__(self, errors: Errors, at: NDArray[np.int64], bar: Bar) -> None:
        self.bar, self.errors = bar, errors
        self.day, self.error = errors.day[at], errors.error[at]
        self.sigma, self.phi, self.limit = errors.sigma[at], errors.phi[at], errors.limit[at]

    def spells(self, serviced: float | None) -> list[Spell]:
        found: list[Spell] = []
        opened: float | None = None
        suspect_since: float | None = None
        quiet_since: float | None = None
        for i, excess in enumerate(self._excess()):
            day = float(self.day[i])
            if excess > 1.0 and suspect_since is None:
                suspect_since = day
            quiet_since = None if excess > QUIET_SHARE else day if quiet_since is None else quiet_since
            is_quiet = quiet_since is not None and day - quiet_since >= QUIET_DAYS
            if is_quiet:
                if opened is not None:
                    found.append(self._spell(opened, day, i))
                opened = suspect_since = None
            elif opened is None and self._is_due(suspect_since, day, excess) and self._matters(i):
                opened = day
        if opened is not None:
            found.append(self._spell(opened, serviced, len(self.day) - 1))
        return found

    def _excess(self) -> Floats:
        """EWMA of the errors over its limit, 1 = at the limit."""
        weight = self.errors.weight
        clipped = np.clip(self.error / self.sigma, -CLIP_SIGMA, CLIP_SIGMA)
        return np.abs(ewma(clipped, weight)) / (self.limit * ewma_sigma(1.0, weight))

    def _is_due(self, suspect_since: float | None, day: float, excess: float) -> bool:
        """Whether a suspicion has lasted; it takes more than the day that raised it."""
        if suspect_since is None or day == suspect_since:
            return False
        return day - suspect_since >= self.bar.wait_days and excess > QUIET_SHARE

    def _matters(self, i: int) -> bool:
        if i + 1 < FEWEST:
            return False
        now = self._course(i)
        tolerance = self.bar.tolerance(float(self.day[i]))
        is_ramp = now.ramp_share > 0.5
        if self.bar.wait_days and now.ramp_share <= RAMP_SHARE:
            return False
        return _is_past(now.error, now.error_sd, tolerance) or (
            is_ramp and _is_past(now.at_horizon, now.at_horizon_sd, tolerance)
        )

    def _course(self, i: int) -> Course:
        """Course of the errors up to the i-th, from no further back than the window."""
        first = int(np.searchsorted(self.day, self.day[i] - self.errors.window_days))
        part = slice(first, i + 1)
        horizon = self.bar.horizon(float(self.day[i]))
        sigma = float(self.sigma[i])
        # One wild grab, or a slip of the pen in the lab book, would pull the line towards it for months.
        error = without_spikes(self.error[part], CLIP_SIGMA * sigma)
        raw = course(self.day[part], error, sigma, float(self.phi[i]), horizon_days=horizon)
        wider = self.errors.inflation
        return replace(
            raw,
            error_sd=raw.error_sd * wider,
            rate_sd=raw.rate_sd * wider,
            at_horizon_sd=raw.at_horizon_sd * wider,
        )

    def _spell(self, opened: float, closed: float | None, i: int) -> Spell:
        now = self._course(i)
        is_past = _is_past(now.error, now.error_sd, self.bar.tolerance(float(self.day[i])))
        return Spell(opened, closed, now, is_past, i + 1)


def _is_past(error: float, sd: float, tolerance: float) -> bool:
    return abs(error) - ONE_SIDED_95 * sd > tolerance
