"""Prior: what is held possible of a course of errors before its first value is seen."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_NEVER = 1e-300
_NARROW = 1e-3
"""Spread [sigma] of a size that is taken as nothing."""


@dataclass(frozen=True)
class Candidates:
    """One row an explanation; sizes in sigmas.

    Parameters
    ----------
    has_begun : (m,) array of bool
        Whether it began on some day since the beginning, rather than with it.
    shape : (m,) array of int
        Which course: the ramps in the order of their onsets, then the bends, then the steps.
    log_weight, level, level_sd, size, size_sd : (m,) arrays
    """

    has_begun: NDArray[np.bool_]
    shape: NDArray[np.int64]
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
        grown = np.array(self.rates).reshape(-1, 3).T
        begun = np.repeat(np.array([self.ramps, self.bends, self.steps]) / onsets, onsets)
        share = np.append(begun, grown[0])
        shape = np.append(np.arange(3 * onsets), np.zeros(len(self.rates), np.int64))
        size = np.append(np.zeros(3 * onsets), grown[1] * span / sigma)
        size_sd = np.append(np.full(3 * onsets, self.size_sd), np.maximum(grown[2] * span / sigma, _NARROW))
        has_begun = np.arange(len(share)) < 3 * onsets
        there = share > 0
        share, shape, has_begun = share[there], shape[there], has_begun[there]
        size, size_sd = size[there], size_sd[there]
        levels = np.array(self.levels or ((1.0, 0.0, np.nan),)).T
        level_sd = np.where(np.isnan(levels[2]), self.level_sd, levels[2] / sigma)
        count, times = len(shape), levels.shape[1]
        return Candidates(
            np.tile(has_begun, times),
            np.tile(shape, times),
            np.log(np.maximum(np.outer(levels[0], share).ravel(), _NEVER)),
            np.repeat(levels[1] / sigma, count),
            np.repeat(level_sd, count),
            np.tile(size, times),
            np.tile(size_sd, times),
        )


NOTHING_KNOWN = Prior()
