"""Services: what as-found and as-left readings say of the interval before, and make likely for this one.

What a service found, less what the one before it had left, is the drift of an interval to the reading of
a standard; no process can move in between. One that drifted past the common measure will most likely do so
again: then the error is foreseen by the calendar alone, from the service on. It is no measurement of now,
and one such interval may have been a single event: only two in a row, the same way, ask for somebody.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.evidence.bar import GOES_ON, RATE_SHARE, UNUSUAL_SHARE, Bar, Spell
from pipeline.evidence.errors import Errors
from pipeline.spc.mixture import Mixture
from pipeline.spc.onset import Course

Floats = NDArray[np.float64]

READ_SHARE = 0.1
"""Scatter of an as-found or as-left reading, as a share of the tolerance. Common practice, no source."""

GIVEN_UP = 0.3
"""Probability below which it is seen not to go on."""

LONGEST_INTERVALS = 1.5
"""How long it holds without a further service, in intervals like the one it rests on."""

_SEEN_DAYS = 7
_GRABBED_DAYS, _FEWEST_GRABBED = 28.0, 2

FEWEST_DAYS = 7.0
"""Interval below which two services are one visit."""


@dataclass(frozen=True)
class Found:
    """One service's readings.

    Parameters
    ----------
    day : float
        Days since 1970-01-01.
    found, left : float [working scale]
        Errors before and after; NaN where they were not written down.
    """

    day: float
    found: float
    left: float


Seen = Callable[[float], tuple[float, float] | None]
"""From a day to the error that the instrument's own past makes of it and its sd; None where unknown."""


def foreseen(log: list[Found], last_day: float, bar: Bar, seen: Seen = lambda day: None) -> list[Spell]:
    """Return the spells that the logbook lets foresee, oldest first; only the last may be open.

    Parameters
    ----------
    log : list of Found
        Ascending.
    last_day : float
        Last day of the record.
    bar : Bar
    seen : callable
        What speaks for or against it.
    """
    spells = []
    unusual = 0.0
    for number in range(1, len(log)):
        before, now = log[number - 1], log[number]
        end = log[number + 1].day if number + 1 < len(log) else None
        interval = now.day - before.day
        accrued, usual = now.found - before.left, UNUSUAL_SHARE * bar.tolerance(now.day)
        was_unusual, unusual = unusual, accrued if abs(accrued) > usual else 0.0
        if interval >= FEWEST_DAYS and unusual and np.isfinite(now.left):
            going_on = _GoingOn(now, accrued / interval, interval, bar, seen, was_unusual * unusual > 0)
            spells += going_on.spell(end, last_day)
    return spells


def seen_by_history(history: Errors) -> Seen:
    """Return a function from a day to the mean error of the last days by the own past, and its sd."""

    def seen(day: float) -> tuple[float, float] | None:
        first, end = np.searchsorted(history.day, [day - _SEEN_DAYS + 1, day + 1])
        known = np.flatnonzero(np.isfinite(history.error[first:end] / history.sigma[first:end])) + first
        if len(known) < _SEEN_DAYS // 2:
            return None
        return float(history.error[known].mean()), float(history.inflation * history.sigma[known[-1]])

    return seen


def seen_by_grabs(grabs: Errors, services: list[float]) -> Seen:
    """Return the same by the grabs since the last service: their median, and its sd."""

    def seen(day: float) -> tuple[float, float] | None:
        since = max((service for service in services if service <= day), default=-np.inf)
        first, end = np.searchsorted(grabs.day, [max(since, day - _GRABBED_DAYS) + 1.0, day + 1.0])
        known = np.flatnonzero(np.isfinite(grabs.error[first:end] / grabs.sigma[first:end])) + first
        if len(known) < _FEWEST_GRABBED:
            return None
        scatter = grabs.inflation * grabs.sigma[known[-1]]
        return float(np.median(grabs.error[known])), float(scatter / np.sqrt(len(known)))

    return seen


def first_of(one: Seen, other: Seen) -> Seen:
    """Return what the first of two sees, else what the other does."""

    def seen(day: float) -> tuple[float, float] | None:
        found = one(day)
        return other(day) if found is None else found

    return seen


class _GoingOn:
    """A drift that goes on after a service as it was before it."""

    def __init__(
        self, now: Found, rate: float, interval: float, bar: Bar, seen: Seen, is_again: bool
    ) -> None:
        self.now, self.rate, self.interval, self.bar, self.seen = now, rate, interval, bar, seen
        self.is_again = is_again

    def spell(self, end: float | None, last_day: float) -> list[Spell]:
        crossed: float | None = None
        matters: float | None = None
        last = min(last_day, self.now.day + LONGEST_INTERVALS * self.interval)
        last = last if end is None else min(last, end - 1.0)
        closed = end if end is not None or last == last_day else last
        for day in np.arange(self.now.day + 1.0, last + 1.0).tolist():
            course, likely = self._course(day), self._likely(day)
            tolerance, chances = self.bar.tolerance(day), self.bar.chances
            if crossed is not None and likely < GIVEN_UP:
                last = closed = day
                break
            if crossed is None and likely * course.now.beyond(chances.seed * tolerance) >= chances.seeded:
                crossed = day
            is_foreseen = self.is_again and likely * course.ahead.beyond(tolerance) >= chances.matters
            matters = day if matters is None and crossed is not None and is_foreseen else matters
        if crossed is None:
            return []
        course = self._course(last)
        is_past = course.now.beyond(self.bar.tolerance(last)) >= self.bar.chances.matters
        return [Spell(crossed, matters, closed, course, is_past, 2, last)]

    def _likely(self, day: float) -> float:
        """Probability that it goes on, by what is seen: as far as foreseen, or where the service left it."""
        about = self.seen(day)
        if about is None:
            return GOES_ON
        mean, sd = about
        centre, spread = self._course(day).now.mean, (sd**2 + self._course(day).now.sd ** 2) ** 0.5
        on = GOES_ON * np.exp(-0.5 * ((mean - centre) / spread) ** 2) / spread
        off = (1.0 - GOES_ON) * np.exp(-0.5 * ((mean - self.now.left) / sd) ** 2) / sd
        return float(on / (on + off)) if on + off > 0 else GOES_ON

    def _course(self, day: float) -> Course:
        read = READ_SHARE * self.bar.tolerance(day)
        rate_sd = ((1.4 * read / self.interval) ** 2 + (RATE_SHARE * self.rate) ** 2) ** 0.5

        def after(days: float) -> Mixture:
            sd = (read**2 + (rate_sd * days) ** 2) ** 0.5
            return Mixture(np.ones(1), np.array([self.now.left + self.rate * days]), np.array([sd]))

        since, begun = day - self.now.day, self.now.day
        ahead = after(since + self.bar.horizon(day))
        return Course(after(since), ahead, self.rate, rate_sd, begun, begun, begun, 1.0)
