"""CUSUM: cumulative sums of what lies beyond an allowance, and when the present one began."""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def cusum(values: Floats, target: float, allowance: float, head_start: float = 0.0) -> tuple[Floats, Floats]:
    """Upper and lower tabular cumulative sums.

    Parameters
    ----------
    values : (n,) array [any unit]
        NaN = missing, leaves the sums where they were.
    target, allowance : float [same unit]
        ``k`` is half the shift that matters.
    head_start : float
        Both sums before the first value (Lucas and Crosier 1982).

    Returns
    -------
    upper, lower : (n,) arrays
        ``S_hi[i] = max(0, S_hi[i-1] + x[i] - target - k)``,
        ``S_lo[i] = max(0, S_lo[i-1] + target - k - x[i])`` (NIST/SEMATECH e-Handbook 6.3.2.3).
    """
    upper, lower = np.empty(len(values)), np.empty(len(values))
    high = low = head_start
    for i, value in enumerate(values.tolist()):
        if value == value:
            high = max(0.0, high + value - target - allowance)
            low = max(0.0, low + target - allowance - value)
        upper[i], lower[i] = high, low
    return upper, lower
