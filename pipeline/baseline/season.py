"""Season: where a tag's daily value should stand, fitted to its own past year where there is one."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.spc.robust import huber_fit, median, sd_and_memory

Floats = NDArray[np.float64]

YEAR_DAYS = 365.25
SEASON_NEEDS_DAYS = 330
"""History that holds a whole turn of the seasons; with less, one annual wave cannot be told from a trend."""

LEVEL_DAYS = 60
FEWEST_DAYS = 45
"""Days with a value that a past must have to be fitted at all."""


@dataclass(frozen=True)
class Expectation:
    """A fitted past.

    Parameters
    ----------
    coefficients : (1 or 5,) array
        Level, then cosine and sine of two annual waves.
    sd : float [working scale]
        Robust standard deviation of a day about the fit.
    phi : float
        Correlation of neighbouring days about the fit.
    history_days : int
        Length of the past it rests on.
    """

    coefficients: Floats
    sd: float
    phi: float
    history_days: int

    @property
    def knows_season(self) -> bool:
        """Whether a whole year went into it."""
        return len(self.coefficients) > 1

    def at(self, day: Floats) -> Floats:
        """Return the expected value on `day` (days since 1970-01-01) [working scale]."""
        return np.asarray(_waves(day, self.knows_season) @ self.coefficients, np.float64)


def expectation(day: Floats, value: Floats) -> Expectation | None:
    """Fit the past.

    Parameters
    ----------
    day : (n,) array
        Days since 1970-01-01, ascending, without holes in the calendar.
    value : (n,) array [working scale]
        NaN where a day has no value.

    Returns
    -------
    Expectation or None
        None where too few days have a value. With less than `SEASON_NEEDS_DAYS` of past it is the
        median of its last `LEVEL_DAYS`.
    """
    known = np.isfinite(value)
    if known.sum() < FEWEST_DAYS:
        return None
    history_days = int(day[-1] - day[np.argmax(known)] + 1)
    seasonal = history_days >= SEASON_NEEDS_DAYS and known.sum() >= SEASON_NEEDS_DAYS // 2
    if seasonal:
        waves = _waves(day, True)
        coefficients = huber_fit(waves[known], value[known])
        residual = value - waves @ coefficients
    else:
        recent = known & (day > day[-1] - LEVEL_DAYS)
        coefficients = np.array([median(value[recent if recent.any() else known])])
        residual = value - coefficients
    return Expectation(coefficients, *sd_and_memory(residual), history_days)


def _waves(day: Floats, seasonal: bool) -> Floats:
    """Design matrix: a level, and two annual waves where the season is known."""
    columns = [np.ones(len(day))]
    if seasonal:
        angle = 2.0 * np.pi * day / YEAR_DAYS
        columns += [np.cos(angle), np.sin(angle), np.cos(2 * angle), np.sin(2 * angle)]
    return np.stack(columns, axis=1)
