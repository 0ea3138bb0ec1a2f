"""Jumps: an error that was not there before a service and is there after it.

A service is looked at once, with the first errors after it. What jumps at a service is the instrument, not
the water: either it had been wrong before and was put right, or it was right and is now wrong. The errors on
both sides say which, as far as they are known.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.evidence.errors import Errors
from pipeline.evidence.watch import BORNE_OUT
from pipeline.spc.mixture import normal_below

Floats = NDArray[np.float64]

LONGEST_DAYS = 28.0
"""Errors further from the service say nothing of it any more."""

LEAST_JUMP = 0.6
"""Share of the tolerance by which it must have jumped at least."""


@dataclass(frozen=True)
class Jump:
    """What a service seems to have done.

    Parameters
    ----------
    service, crossed : float
        Its day; the day on which enough was known after it [days since 1970-01-01].
    until : float or None
        Day of the next service.
    before, after, sd : float [working scale]
        Mean errors on both sides; standard deviation of the later one.
    chance : float
        Probability that the error is past the tolerance since the service and came with it.
    count : int
        Errors after the service that it rests on.
    """

    service: float
    crossed: float
    until: float | None
    before: float
    after: float
    sd: float
    chance: float
    count: int


def jumps(
    errors: Errors,
    services: Sequence[float],
    tolerance: Callable[[float], float],
    count: int,
    sure: float,
) -> list[Jump]:
    """Return the services that seem to have made an instrument wrong, oldest first.

    Parameters
    ----------
    errors : Errors
    services : sequence of float
        Days of services, ascending.
    tolerance : callable
        From a day to the admissible error [working scale].
    count : int
        Errors looked at on each side.
    sure : float
        Least probability.
    """
    known = np.isfinite(errors.error / errors.sigma)
    found = []
    for number, service in enumerate(services):
        until = services[number + 1] if number + 1 < len(services) else None
        since = services[number - 1] if number else -np.inf
        after = known & (errors.day > service) & (errors.day <= service + LONGEST_DAYS)
        before = known & (errors.day < service) & (errors.day > max(since, service - LONGEST_DAYS))
        after &= errors.day < (np.inf if until is None else until)
        jump = _jump(errors, np.flatnonzero(before)[-count:], np.flatnonzero(after)[:count], count)
        if jump is not None:
            mean, sd, earlier, earlier_sd, crossed = jump
            chance = _chance(mean, sd, earlier, earlier_sd, tolerance(crossed))
            if chance >= sure:
                found.append(Jump(service, crossed, until, earlier, mean, sd, chance, count))
    return found


def _jump(
    errors: Errors, before: NDArray[np.int64], after: NDArray[np.int64], count: int
) -> tuple[float, float, float, float, float] | None:
    if len(after) < count or len(before) < count:
        return None
    first, last = float(errors.error[before].mean()), float(errors.error[after].mean())
    # One slip of the pen among two grabs is no step: each must bear it out.
    if (errors.error[after] * np.sign(last) <= BORNE_OUT * abs(last)).any():
        return None
    return last, _sd(errors, after), first, _sd(errors, before), float(errors.day[after[-1]])


def _sd(errors: Errors, at: NDArray[np.int64]) -> float:
    """Return the sd of a mean of neighbours, with what the reference itself may be off by."""
    last = at[-1]
    phi, n = float(errors.phi[last]), len(at)
    lags = np.arange(1, n)
    shared = 1.0 + 2.0 * float(((1.0 - lags / n) * phi**lags).sum())
    off = 0.0 if errors.level_sd is None else float(errors.level_sd[last])
    return float(errors.inflation * errors.sigma[last] * (shared / n + off**2) ** 0.5)


def _chance(after: float, sd: float, before: float, before_sd: float, tolerance: float) -> float:
    """Probability that it is past the tolerance now and was clearly less so before; the rarer of the two."""
    sign = np.sign(after)
    past = (sign * after - tolerance) / sd
    came = (sign * (after - before) - LEAST_JUMP * tolerance) / (sd**2 + before_sd**2) ** 0.5
    return float(min(normal_below(np.array([past, came]))))
