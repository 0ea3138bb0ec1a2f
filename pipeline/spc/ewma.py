"""EWMA: the exponentially weighted moving average and how far it may wander by chance."""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def ewma(values: Floats, weight: float, start: float = 0.0) -> Floats:
    """Exponentially weighted moving average; a missing value leaves it where it was.

    Parameters
    ----------
    values : (n,) array [any unit]
        NaN = missing.
    weight : float
        Share of the newest value, ``0 < weight <= 1``.
    start : float
        Average before the first value.

    Returns
    -------
    (n,) array
        ``z[i] = weight * x[i] + (1 - weight) * z[i-1]`` (NIST/SEMATECH e-Handbook 6.3.2.4).
    """
    averaged = np.empty(len(values))
    level = start
    for i, value in enumerate(values.tolist()):
        if value == value:
            level += weight * (value - level)
        averaged[i] = level
    return averaged


def ewma_sigma(sigma: float, weight: float) -> float:
    """Return the long-run standard deviation of an EWMA of independent values.

    ``sigma * sqrt(weight / (2 - weight))`` (NIST/SEMATECH e-Handbook 6.3.2.4). Values that lean on
    their forerunners wander further: limits in these units must come from a false-alarm budget.
    """
    return float(sigma * np.sqrt(weight / (2.0 - weight)))
