"""Robust: centre, spread and memory of a series that a few bad values cannot move."""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

MAD_TO_SD = 1.482602218505602
"""A normal distribution's standard deviation over its median absolute deviation, 1 / Phi^-1(3/4)."""


_CLOSE = 1e-4
"""Change of a robust fit, as a share of its spread, at which another round would change nothing."""


def robust_sd(values: Floats) -> float:
    """Return 1.4826 times the median absolute deviation, NaN ignored; NaN when nothing is left."""
    known = values[np.isfinite(values)]
    if known.size == 0:
        return float("nan")
    return MAD_TO_SD * median(np.abs(known - median(known)))


def median(values: Floats) -> float:
    """Return the middle of finite values, one at least: as numpy's own, which takes five times as long."""
    half = len(values) // 2
    if len(values) % 2:
        return float(np.partition(values, half)[half])
    below, above = np.partition(values, (half - 1, half))[half - 1 : half + 1]
    return float((below + above) / 2.0)


def medians(table: Floats, fewest: int = 1) -> Floats:
    """Median of each column, NaN left out (as numpy's nanmedian, many times sooner); NaN for too few."""
    ranked = np.sort(table, axis=0)
    count = np.isfinite(ranked).sum(axis=0)
    low, high = np.maximum(count - 1, 0) // 2, count // 2
    column = np.arange(table.shape[1])
    high = np.minimum(high, len(table) - 1)
    middle = 0.5 * (ranked[low, column] + ranked[high, column])
    return np.where(count >= fewest, middle, np.nan)


def lag_one(values: Floats) -> float:
    """Return the lag-1 autocorrelation about the median, outliers clipped at 4 robust sd; 0 when unknown."""
    return sd_and_memory(values)[1]


def sd_and_memory(values: Floats) -> tuple[float, float]:
    """Return `robust_sd` and `lag_one` of a series, which rest on the same median."""
    there = np.isfinite(values)
    known = values[there]
    if known.size == 0:
        return float("nan"), 0.0
    off = known - median(known)
    spread = MAD_TO_SD * median(np.abs(off))
    if not spread > 0:
        return spread, 0.0
    clipped = np.zeros(len(values))
    clipped[there] = np.clip(off / spread, -4.0, 4.0)
    pairs = np.count_nonzero(there[:-1] & there[1:])
    power = float(clipped @ clipped) / len(known)
    if pairs < 10 or power == 0:
        return spread, 0.0
    # Where one of two is missing their product is nothing.
    return spread, min(max(float(clipped[:-1] @ clipped[1:]) / pairs / power, 0.0), 0.95)


def huber_fit(design: Floats, values: Floats, rounds: int = 10, bend: float = 1.345) -> Floats:
    """Least squares that a few large residuals cannot pull away (Huber 1964, by reweighting).

    Parameters
    ----------
    design : (n, p) array
    values : (n,) array
        Finite.
    rounds : int
        Reweightings.
    bend : float
        Residual in robust sd beyond which a value loses weight; 1.345 keeps 95 % efficiency.

    Returns
    -------
    (p,) array
        Coefficients.
    """
    scale = np.sqrt(np.maximum((design**2).sum(axis=0), 1e-300))
    unit = design / scale
    coefficients = _least_squares(unit, values, np.ones(len(values)))
    for _ in range(rounds):
        residual = values - unit @ coefficients
        spread = robust_sd(residual)
        if not spread > 0:
            break
        weight = np.minimum(1.0, bend * spread / np.maximum(np.abs(residual), 1e-300))
        before, coefficients = coefficients, _least_squares(unit, values, weight)
        if np.abs(unit @ (coefficients - before)).max() < _CLOSE * spread:
            break
    return np.asarray(coefficients / scale, dtype=np.float64)


def _least_squares(unit: Floats, values: Floats, weight: Floats) -> Floats:
    """Solve the normal equations, small and quick; a column that says nothing new gets no share."""
    weighted = unit * weight[:, None]
    return np.asarray(np.linalg.lstsq(weighted.T @ unit, weighted.T @ values, rcond=None)[0], np.float64)


def without_spikes(values: Floats, allowed: float) -> Floats:
    """Put the median of three in place of a value that stands out from both its neighbours.

    The Hampel filter of the shortest window, with a given scale. The ends are held against the two
    values next to them, so that a step shows with its second value.

    Parameters
    ----------
    values : (n,) array
        Finite.
    allowed : float [same unit]
        How far a value may lie from the median of itself and its neighbours.
    """
    if len(values) < 3:
        return values
    before, after = np.append(values[2], values[:-1]), np.append(values[1:], values[-3])
    middle = np.maximum(np.minimum(before, values), np.minimum(np.maximum(before, values), after))
    return np.where(np.abs(values - middle) > allowed, middle, values)
