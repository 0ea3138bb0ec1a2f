"""Watch: value by value, is a drift certain, and does it matter; opened, measured and closed by rules.

The watch walks through the errors once, in time, and at every value knows only what came before it:

* A drift is certain, and a spell opens, when the error is past a small share of the tolerance, and two values
  in a row bear it out. That is for the instrument's page.
* It matters, and somebody is asked to look, when the error is past the tolerance, or will be before the next
  service. Certainty alone asks for nobody's morning: every instrument wanders.
* With only its own history to go by, the EWMA of the errors must first have raised suspicion; to matter, it
  must have lasted `wait_days` and look like a ramp: a level that jumped and stayed may be the water.
* A service closes the spell; so do 14 quiet days, once it is no longer likely, and 14 days on which it is
  no longer likely to matter: what is still certain is for the record again. So do the newest errors when
  none of them bears out one past the tolerance: it went, though nobody wrote it down. What was learned of
  the rate, and of the error where a service may have left it, goes into the next segment as one explanation
  among others: the likelier, the less it was that of a sound instrument.
"""

from dataclasses import replace
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from pipeline.evidence.bar import GOES_ON, RATE_SHARE, UNUSUAL_SHARE, Bar, Spell
from pipeline.evidence.errors import Errors
from pipeline.spc.ewma import ewma, ewma_sigma
from pipeline.spc.onset import Course, Weighed, weighed
from pipeline.spc.prior import Prior
from pipeline.spc.robust import without_spikes

Floats = NDArray[np.float64]

CLIP_SIGMA = 6.0
QUIET_SHARE = 0.7
QUIET_DAYS = 14.0
STILL_LIKELY = 0.5
"""Probability of a small error below which a quiet spell is over, and of one that matters below which it
matters no more."""

LOOK_SHARE = 0.4
"""Share of the EWMA's limit from which on the course is estimated; below it nothing can be certain."""

LOOK_DAYS = 3.0
"""Days between two looks at daily errors: the same evidence asked every day answers by chance some day."""

NEWEST = 3
"""Errors whose mean must be past the small share of the tolerance before more is asked."""

FEWEST = 2
"""Errors that a segment must hold before its course is estimated: those that must bear each other out."""

BORNE_OUT = 0.3
"""Share of the estimated error that each of the two newest errors must show."""

RAMP_SHARE = 0.9
"""Probability of a ramp that one sensor alone must show. It tells a drift from a shift of the water better
than a longer wait."""

NATURAL_SHARE, LEVEL_SHARE, SIZE_SHARE = 0.3, 0.15, 4.0
"""Of the tolerance: what sound instruments drift by from service to service, what a service leaves, and how
large faults are (standard deviations). Common practice, no source."""

GOING_ON = 0.3
"""Probability that an instrument drifts on after a service as before. Common practice, no source."""

TAIL_DF = 4.0
"""Grabs scatter like Student's t with so few degrees of freedom. Common practice, no source."""

LONG_SHARE = 0.3
"""Probability that an error is older than the window of a segment that is longer than it."""


def spells(errors: Errors, bar: Bar) -> list[Spell]:
    """Return the spells of drift, oldest first; only the last may be open."""
    found: list[Spell] = []
    edges = [-np.inf, *bar.services, np.inf]
    cleared = [1.0, *(bar.cleared or [1.0] * len(bar.services))]
    segment: _Segment | None = None
    for (begin, end), clean in zip(pairwise(edges), cleared, strict=True):
        here = (errors.day > begin) & (errors.day < end) & np.isfinite(errors.error / errors.sigma)
        segment = _Segment(errors, np.flatnonzero(here), bar, begin, clean, segment)
        found += segment.spells(end if np.isfinite(end) else None)
    return found


def latest(errors: Errors, bar: Bar) -> Course | None:
    """Return the course since the last service as known with the newest error; None for too few errors."""
    begin = bar.services[-1] if bar.services else -np.inf
    here = np.flatnonzero((errors.day > begin) & np.isfinite(errors.error / errors.sigma))
    return _Segment(errors, here, bar, begin, 1.0, None).last


class _Segment:
    """The errors from one service to the next."""

    def __init__(
        self,
        errors: Errors,
        at: NDArray[np.int64],
        bar: Bar,
        begin: float,
        clean: float,
        before: "_Segment | None",
    ) -> None:
        self.bar, self.errors = bar, errors
        self.begin, self.clean, self.before = begin, clean, before
        self.day, self.error = errors.day[at], errors.error[at]
        self.sigma, self.phi, self.limit = errors.sigma[at], errors.phi[at], errors.limit[at]
        self.level_sd = None if errors.level_sd is None else errors.level_sd[at]

    @cached_property
    def last(self) -> Course | None:
        """Course at the end; that of the segment before where there were too few errors to tell."""
        if len(self.day) >= FEWEST:
            return self._course(len(self.day) - 1)
        return self.before.last if self.before is not None and self.clean < 1.0 else None

    @cached_property
    def prior(self) -> Prior:
        """What the segment before makes likely for this one."""
        plain = replace(self.errors.prior, begin=self.begin if np.isfinite(self.begin) else None)
        last = None if self.before is None else self.before.last
        if last is None:
            return plain
        spread = (last.rate_sd**2 + (RATE_SHARE * last.rate) ** 2) ** 0.5
        left = ((self.clean, 0.0, np.nan), (1.0 - self.clean, last.error, last.error_sd))
        levels = left if self.clean < 1.0 else ()
        tolerance = self.bar.tolerance(self.begin)
        unusual = last.ramp_share * last.now.beyond(UNUSUAL_SHARE * tolerance)
        going_on = GOING_ON + unusual * (GOES_ON - GOING_ON)
        return replace(plain, levels=levels, rates=((going_on, last.rate, spread),))

    def spells(self, serviced: float | None) -> list[Spell]:
        found: list[Spell] = []
        opened: float | None = None
        matters: float | None = None
        suspect: float | None = None
        quiet: float | None = None
        doubted: float | None = None
        for i, (day, excess) in enumerate(zip(self.day.tolist(), self._excess().tolist(), strict=True)):
            suspect = day if excess > 1.0 and suspect is None else suspect
            quiet = None if excess > QUIET_SHARE else day if quiet is None else quiet
            is_over = False
            if quiet is not None and day - quiet >= QUIET_DAYS:
                suspect = None
                is_over = opened is not None and not self._lasts(i)
            if matters is not None and not is_over and self._is_look(i):
                still_matters, is_denied = self._stands(i)
                doubted = None if still_matters else day if doubted is None else doubted
                is_over = is_denied or (doubted is not None and day - doubted >= QUIET_DAYS)
            if opened is not None and is_over:
                found.append(self._spell(opened, matters, day, i))
                opened = matters = doubted = None
            is_asked = opened is None or (matters is None and self.bar.chances.may_matter)
            if is_asked and excess >= LOOK_SHARE and self._is_look(i):
                is_certain, does_matter = self._judged(i, None if suspect is None else day - suspect)
                opened = day if opened is None and is_certain else opened
                matters = day if opened is not None and does_matter else None
        if opened is not None:
            found.append(self._spell(opened, matters, serviced, len(self.day) - 1))
        return found

    def _is_look(self, i: int) -> bool:
        return i + 1 >= FEWEST and self.day[i] // LOOK_DAYS != self.day[i - 1] // LOOK_DAYS

    def _excess(self) -> Floats:
        """EWMA of the errors over its limit, 1 = at the limit."""
        weight = self.errors.weight
        clipped = np.clip(self.error / self.sigma, -CLIP_SIGMA, CLIP_SIGMA)
        return np.abs(ewma(clipped, weight)) / (self.limit * ewma_sigma(1.0, weight))

    def _lasts(self, i: int) -> bool:
        """Whether a drift is still likely at the i-th error, however quiet; alone, quiet ends it."""
        if self.bar.wait_days:
            return False
        small = self.bar.chances.small * self.bar.tolerance(float(self.day[i]))
        return self._course(i).now.beyond(small) >= STILL_LIKELY

    def _stands(self, i: int) -> tuple[bool, bool]:
        """Whether an error past the tolerance, now or soon, is still likely; whether the newest deny it.

        They do when none of them bears it out; with its own history alone, the water may hide it.
        """
        tolerance = self.bar.tolerance(float(self.day[i]))
        newest = self.error[max(i - NEWEST + 1, 0) : i + 1]
        if abs(newest.mean()) >= tolerance:
            return True, False
        course = self._course(i)
        is_likely = max(course.now.beyond(tolerance), course.ahead.beyond(tolerance)) >= STILL_LIKELY
        if self.bar.wait_days or len(newest) < NEWEST or abs(course.error) < tolerance:
            return is_likely, False
        return is_likely, bool(np.max(np.sign(course.error) * newest) < BORNE_OUT * abs(course.error))

    def _judged(self, i: int, suspect_days: float | None) -> tuple[bool, bool]:
        """Whether at the i-th error a drift is certain, and whether it matters."""
        wait, tolerance, bar = self.bar.wait_days, self.bar.tolerance(float(self.day[i])), self.bar.chances
        if wait and not suspect_days:  # it takes more than the day that raised the suspicion
            return False, False
        newest = self.error[i - 1 : i + 1]
        recent = self.error[max(i - NEWEST + 1, 0) : i + 1]
        if newest[0] * newest[1] <= 0 or abs(recent.mean()) < bar.small * tolerance:
            return False, False
        found = self._weighed(i)
        # Most looks end here: what the course came to is not asked.
        error = found.now.mean
        if np.min(np.sign(error) * newest) <= BORNE_OUT * abs(error):
            return False, False
        if found.now.widened(self.errors.inflation).beyond(bar.small * tolerance) < bar.certain:
            return False, False
        now = self._widened(found)
        if wait and (now.ramp_share <= RAMP_SHARE or (suspect_days or 0.0) < wait):
            return True, False
        is_seeded = now.ramp_share > 0.5 and now.now.beyond(bar.seed * tolerance) >= bar.seeded
        has_sign = now.now.beyond(0.0) >= bar.signed
        is_foreseen = is_seeded and has_sign and now.ahead.beyond(tolerance) >= bar.matters
        return True, is_foreseen or now.now.beyond(tolerance) >= bar.matters

    def _course(self, i: int) -> Course:
        """Course of the errors up to the i-th, from no further back than the window."""
        return self._widened(self._weighed(i))

    def _weighed(self, i: int) -> Weighed:
        first = int(np.searchsorted(self.day, self.day[i] - self.errors.window_days))
        part = slice(first, i + 1)
        sigma = float(self.sigma[i])
        # One wild grab, or a slip of the pen in the lab book, would pull the line towards it for months.
        error = without_spikes(self.error[part], CLIP_SIGMA * sigma)
        horizon = self.bar.horizon(float(self.day[i]))
        return weighed(
            self.day[part], error, sigma, float(self.phi[i]), self._sized(i, first == 0), horizon,
            tail_df=TAIL_DF if self.errors.has_heavy_tails else None,
        )  # fmt: skip

    def _widened(self, found: Weighed) -> Course:
        """Return the course with the intervals that this reference needs."""
        raw, wider = found.course(), self.errors.inflation
        return replace(
            raw, now=raw.now.widened(wider), ahead=raw.ahead.widened(wider), rate_sd=raw.rate_sd * wider
        )

    def _sized(self, i: int, is_whole: bool) -> Prior:
        """Prior at the i-th error, its sizes taken from the tolerance: that is what sound ones keep to."""
        sigma, tolerance = float(self.sigma[i]), self.bar.tolerance(float(self.day[i]))
        prior = self.prior
        if not is_whole:
            # What began before the window shows as a level already there; alone it may be the water's.
            levels = ((1.0 - LONG_SHARE, 0.0, np.nan), (LONG_SHARE, 0.0, SIZE_SHARE * tolerance))
            prior = replace(prior, begin=None, levels=() if self.bar.wait_days else levels, rates=())
        begun = prior.ramps + prior.bends + prior.steps + sum(share for share, _, _ in prior.rates)
        natural = (1.0 - begun, 0.0, NATURAL_SHARE * tolerance / self.bar.interval_days)
        off = prior.level_sd if self.level_sd is None else float(self.level_sd[i])
        return replace(
            prior,
            rates=(*prior.rates, natural),
            level_sd=max(prior.level_sd, LEVEL_SHARE * tolerance / sigma, off),
            size_sd=max(prior.size_sd, SIZE_SHARE * tolerance / sigma),
        )

    def _spell(self, opened: float, matters: float | None, closed: float | None, i: int) -> Spell:
        now = self._course(i)
        is_past = now.now.beyond(self.bar.tolerance(float(self.day[i]))) >= self.bar.chances.matters
        return Spell(opened, matters, closed, now, is_past, i + 1, float(self.day[i]))
