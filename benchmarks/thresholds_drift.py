"""Drift's bars: when errors are suspect, and how far estimates scatter, on family A."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from benchmarks.families import Floats
from benchmarks.thresholds_line import mapped, noted
from benchmarks.thresholds_samples import Healthy, Scatter, drifting, healthy
from pipeline.spc.ewma import ewma, ewma_sigma

SUSPICIONS_A_YEAR, COVERAGE = 0.25, 0.95
HOLD_DAYS, CLIP_SIGMA = 7.0, 6.0
WIDENINGS = [0.02 * 1.02**k for k in range(300)]
TRAINS, DRIFT_TRAINS = 30, 24
OWN_LIMITS = [[45.0, 21.8], [90.0, 18.1], [180.0, 14.4], [330.0, 12.5], [730.0, 10.7]]
STANDING: dict[str, tuple[object, str]] = {
    "limit_by_history": (
        OWN_LIMITS,
        "source changes, storms and set-points raise suspicion oftener than the budget; entries, which also "
        "need a ramp that matters, stay within it",
    ),
    "grab_limit": (3.4, "within the error of the derivation"),
    "twin_inflation": (2.5, "within the error of the derivation"),
}


@dataclass(frozen=True)
class Series:
    """One sensor's scored errors in sigmas, the day of each, and when it was serviced."""

    day: Floats
    z: Floats
    services: tuple[float, ...]
    years: float


def episodes(series: Series, weight: float, limit: float) -> int:
    """Count how often the EWMA, restarted at every service, rises over a limit; within a week is once."""
    count, last = 0, -np.inf
    for begin, end in pairwise([-np.inf, *series.services, np.inf]):
        here = (series.day > begin) & (series.day < end) & np.isfinite(series.z)
        smoothed = np.abs(ewma(np.clip(series.z[here], -CLIP_SIGMA, CLIP_SIGMA), weight))
        above = smoothed > limit * ewma_sigma(1.0, weight)
        rising = above & ~np.append(False, above[:-1])
        for day in series.day[here][rising]:
            count += day - last > HOLD_DAYS
            last = day
    return count


def limit_for(every: Sequence[Series], weight: float, a_year: float) -> float:
    """Return the lowest limit [sigma of an EWMA of independent values] crossed no oftener than `a_year`."""
    years = sum(one.years for one in every)
    low, high = 0.5, 60.0
    for _ in range(16):
        middle = (low + high) / 2
        often = sum(episodes(one, weight, middle) for one in every) / years
        low, high = (middle, high) if often > a_year else (low, middle)
    return round(float(np.ceil(high * 10.0)) / 10.0, 1)


def inflation_for(scatter: Sequence[Scatter], coverage: float) -> float:
    """Factor by which estimates must be widened for their 95 % intervals to hold so much of the truth."""
    return round(float(np.quantile([_needed(one) for one in scatter], coverage)), 2)


def _needed(one: Scatter) -> float:
    """Lowest widening of an estimate whose 95 % interval holds the truth."""
    for factor in WIDENINGS:
        made = one.estimate.widened(factor)
        if 0.025 <= made.below(one.truth) <= 0.975:
            return factor
    return WIDENINGS[-1]


def _own(every: Sequence[Healthy], history: int) -> list[Series]:
    return [Series(one.day, one.own[history], one.services, one.years) for one in every if history in one.own]


def derived() -> dict[str, dict[str, object]]:
    """Derive the bars of drift; for each its value and what it rests on."""
    sound: list[Healthy] = mapped(healthy, TRAINS)
    scatter: list[Scatter] = mapped(drifting, DRIFT_TRAINS)
    watched = [one for one in sound if one.is_watched_alone]
    days = sorted({history for one in watched for history in one.own})
    own = [[float(history), limit_for(_own(watched, history), 0.1, SUSPICIONS_A_YEAR)] for history in days]
    weekly = [Series(one.grab_day, one.grab, one.services, one.years) for one in sound]
    by = {name: [one for one in scatter if one.reference == name] for name in ("grab", "twin", "own")}
    suspicion = f"{SUSPICIONS_A_YEAR} suspicions a year of a healthy sensor"
    held = f"95 % intervals hold {COVERAGE:.0%} of the true errors 56 days into a drift"
    rows = (
        ("limit_by_history", own, suspicion, len(watched)),
        ("grab_limit", limit_for(weekly, 0.3, SUSPICIONS_A_YEAR), suspicion, len(weekly)),
        ("grab_inflation", inflation_for(by["grab"], COVERAGE), held, len(by["grab"])),
        ("twin_inflation", inflation_for(by["twin"], COVERAGE), held, len(by["twin"])),
        ("own_inflation", inflation_for(by["own"], COVERAGE), held, len(by["own"])),
    )
    return {name: noted(name, value, what, n, STANDING) for name, value, what, n in rows}
