"""Contact: time and CT of a segment, the inactivation of several, and what a year's profile comes to.

C is the residual at the end of the segment and T the time that 90 % of the water stays at least, T10, at peak
hourly flow (40 CFR 141.74(b)(3)(iii) and (iv)). Segments add up (141.74(b)(4), 141.534).
"""

from collections.abc import Iterable, Mapping
from datetime import date

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

MOST_GIARDIA_LOGS = 3.0
"""What the table reaches; more is never reported."""

BAFFLING = {"unbaffled": 0.1, "poor": 0.3, "average": 0.5, "superior": 0.7, "plug flow": 1.0}
"""Usual baffling factors; a plant uses the one its state approved."""


def contact_minutes(volume_gal: ArrayLike, flow_gpm: ArrayLike, baffling_factor: float) -> Floats:
    """Return T10 [min]: volume over flow, times the baffling factor; NaN where no water flows.

    The volume is that at the lowest level of the hour, never the tank's capacity (from memory: EPA's manual).
    """
    volume, flow = np.broadcast_arrays(np.asarray(volume_gal, float), np.asarray(flow_gpm, float))
    with np.errstate(divide="ignore", invalid="ignore"):
        found: Floats = np.where(flow > 0, volume / flow * baffling_factor, np.nan)
    return found


def giardia_logs(ratios: Iterable[ArrayLike]) -> Floats:
    """Return 3 times the sum of the segments' CT over CT99.9 [log], not capped; NaN with any of them."""
    total = np.sum([np.asarray(ratio, float) for ratio in ratios], axis=0)
    found: Floats = np.asarray(3.0 * total)
    return found


def percent_inactivated(logs: ArrayLike) -> Floats:
    """Return ``100 - 100 / 10^logs`` [%]."""
    found: Floats = 100.0 - 100.0 / 10.0 ** np.asarray(logs, float)
    return found


def monthly_means(profile: Mapping[date, float]) -> dict[tuple[int, int], float]:
    """Return the mean of a profile's values in each calendar month, by (year, month)."""
    months: dict[tuple[int, int], list[float]] = {}
    for day in sorted(profile):
        months.setdefault((day.year, day.month), []).append(profile[day])
    return {month: sum(values) / len(values) for month, values in months.items()}


def benchmark(profile: Mapping[date, float]) -> tuple[tuple[int, int], float]:
    """Return the month with the lowest mean of a profile, and that mean [log] (40 CFR 141.543).

    Raises
    ------
    ValueError
        The profile holds fewer than twelve months.
    """
    means = monthly_means(profile)
    if len(means) < 12:
        raise ValueError(f"the profile holds {len(means)} months; a benchmark takes twelve")
    return min(means.items(), key=lambda item: (item[1], item[0]))
