"""Prior: what is held possible of a course of errors before its first value is seen."""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_NEVER = 1e-300
_NARROW = 1e-3
"""Spread [sigma] of a size that is taken as nothing."""


@dataclass(frozen=True)
class Layout:
    """Which course each explanation follows; the same for all series with as many onsets.

    Parameters
    ----------
    powers : tuple of float
        Of the time since the onset that each kind of course grows with: 1 ramps, 2 bends, 0 steps.
    has_begun : (m,) array of bool
        Whether it began on some day since the beginning, rather than with it.
    shape : (m,) array of int
        Which course: those of `powers` in turn, each in the order of its onsets.
    at : (m,) array of int
        Which onset.
    power : (m,) array
        That of its course.
    """

    powers: tuple[float, ...]
    has_begun: NDArray[np.bool_]
    shape: NDArray[np.int64]
    at: NDArray[np.int64]
    power: Floats


@lru_cache(maxsize=1024)
def layout(onsets: int, powers: tuple[float, ...], rates: int, levels: int) -> Layout:
    """Return the layout of all courses from every onset and `rates` ramps since the first, at each level."""
    begun = len(powers) * onsets
    shape = np.append(np.arange(begun), np.zeros(rates, np.int64))
    has_begun = np.arange(len(shape)) < begun
    shape, has_begun = np.tile(shape, levels), np.tile(has_begun, levels)
    return Layout(powers, has_begun, shape, shape % onsets, np.array(powers)[shape // onsets])


@dataclass(frozen=True)
class Candidates:
    """One row an explanation; sizes in sigmas.

    Parameters
    ----------
    layout : Layout
    log_weight, level, level_sd, size, size_sd : (m,) arrays
    """

    layout: Layout
    log_weight: Floats
    level: Floats
    level_sd: Floats
    size: Floats
    size_sd: Floats


@dataclass(frozen=True)
class Prior:
    """What was known when the segment began.

    Parameters
    ----------
    begin : float or None [day]
        When it began; None: with its first value.
    levels : tuple of (probability, mean, sd) [unit]
        Errors that the last service may have left, an sd of NaN for `level_sd`; empty: none but chance.
    rates : tuple of (probability, mean, sd) [unit/day]
        At which the error may have grown ever since the beginning.
    ramps, bends, steps : float
        How likely a ramp is, a ramp that grows ever faster, and a step, that began on any day since.
    level_sd, size_sd : float [sigma]
        Spread of the level before, and of the size by now of what began on any day.
    most_onsets : int
        Onsets looked at.
    """

    begin: float | None = None
    levels: tuple[tuple[float, float, float], ...] = ()
    rates: tuple[tuple[float, float, float], ...] = ()
    ramps: float = 0.5
    bends: float = 0.0
    steps: float = 0.5
    level_sd: float = 0.7
    size_sd: float = 8.0
    most_onsets: int = 100

    def candidates(self, onsets: int, span: float, sigma: float) -> Candidates:
        """Return every explanation with its weight.

        Parameters
        ----------
        onsets : int
            Number of onsets; there are as many courses of each kind.
        span : float [day]
            From the first onset to the last value.
        sigma : float [unit]
        """
        # Ramps are there in any case: what grew since the beginning is one.
        begun = [(1.0, self.ramps), *((p, s) for p, s in ((2.0, self.bends), (0.0, self.steps)) if s > 0)]
        chance, level, level_sd = np.array(self.levels or ((1.0, 0.0, np.nan),)).T
        grown, rate, rate_sd = np.array(self.rates).reshape(-1, 3).T
        times, count = len(chance), len(begun) * onsets
        share = np.concatenate([np.repeat([each / onsets for _, each in begun], onsets), grown])
        size, size_sd = np.zeros(len(share)), np.full(len(share), self.size_sd)
        size[count:], size_sd[count:] = rate * span / sigma, np.maximum(rate_sd * span / sigma, _NARROW)
        level_sd = np.where(np.isnan(level_sd), self.level_sd, level_sd / sigma)
        return Candidates(
            layout(onsets, tuple(power for power, _ in begun), len(grown), times),
            np.log(np.maximum((chance[:, None] * share).ravel(), _NEVER)),
            np.repeat(level / sigma, len(share)),
            np.repeat(level_sd, len(share)),
            np.concatenate([size] * times),
            np.concatenate([size_sd] * times),
        )


NOTHING_KNOWN = Prior()
