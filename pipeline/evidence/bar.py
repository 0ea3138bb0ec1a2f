"""Bar: what a drift of an instrument is held against, and the spell that comes of one that is certain."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from pipeline.spc.onset import Course

RATE_SHARE = 0.3
"""Spread of a rate from one interval between services to the next, as a share of it. Common practice, no
source."""

UNUSUAL_SHARE, GOES_ON = 0.6, 0.93
"""Drift from service to service, as a share of the tolerance, beyond which it is not that of a sound
instrument; and the probability that such a one goes on."""


@dataclass(frozen=True)
class Chances:
    """How sure one must be, and of what.

    Parameters
    ----------
    matters : float
        Probability of being past the tolerance, now or before the next service.
    certain, small : float
        Probability of being past this small share of the tolerance.
    seeded, seed : float
        The same for an error that is only foreseen to pass the tolerance: it has begun.
    signed : float
        Probability of the sign of one that is only foreseen: its 95 % interval leaves zero out.
    """

    matters: float = 0.95
    certain: float = 0.90
    small: float = 0.20
    seeded: float = 0.90
    seed: float = 0.25
    signed: float = 0.975

    @property
    def may_matter(self) -> bool:
        """Whether any error may; what is for the record only need not be looked at again once certain."""
        return self.matters <= 1.0


@dataclass(frozen=True)
class Spell:
    """A drift that is certain.

    Parameters
    ----------
    crossed : float
        Day on which what was known first sufficed [days since 1970-01-01].
    matters_since : float or None
        Day since which it matters; None as long as it does not.
    closed : float or None
        Day on which it was over; None while it lasts.
    course : Course
        Estimated from all that is known of it now.
    is_past : bool
        Whether the error is now past the tolerance with confidence.
    count : int
        Errors since the segment began.
    measured : float
        Day of the newest of them: the course is told as of then.
    """

    crossed: float
    matters_since: float | None
    closed: float | None
    course: Course
    is_past: bool
    count: int
    measured: float


@dataclass(frozen=True)
class Bar:
    """What makes a drift matter.

    Parameters
    ----------
    tolerance : callable
        From a day to the admissible error on that day [working scale].
    horizon : callable
        From a day to the days until the next service.
    services : sequence of float
        Days of services, ascending.
    wait_days : float
        How long a suspicion must have lasted; above 0 it must also be a ramp beyond `RAMP_SHARE`.
    cleared : sequence of float
        For each service the probability that it took the error away; empty: all of them did.
    interval_days : float
        From service to service: so long a sound instrument stays well within its tolerance.
    chances : Chances
    """

    tolerance: Callable[[float], float]
    horizon: Callable[[float], float]
    services: Sequence[float]
    wait_days: float = 0.0
    cleared: Sequence[float] = ()
    interval_days: float = 90.0
    chances: Chances = field(default_factory=Chances)
