"""Thresholds: every bar of the detectors, derived from a budget of false alarms on family A and written down.

``python -m benchmarks.thresholds`` simulates healthy and drifting sensors of family A, which detectors may
be tuned on, prints old and new values and writes ``pipeline/evidence/thresholds.json``; ``--dry`` prints
only. A value that stands (`STANDING`) is kept as long as its reason holds; what was derived is written
beside it.
"""

import os

os.environ.setdefault("POLARS_MAX_THREADS", "1")

import json
from argparse import ArgumentParser
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import chain, pairwise
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import numpy as np

from benchmarks.families import Floats
from benchmarks.results import today
from benchmarks.thresholds_samples import Healthy, Scatter, drifting, healthy
from pipeline.spc.ewma import ewma, ewma_sigma
from pipeline.spc.runs import longest_usual_run

FILE = Path(__file__).resolve().parents[1] / "pipeline" / "evidence" / "thresholds.json"
FAMILY, SEED = "A", 31_000
SUSPICIONS_A_YEAR, FROZEN_A_YEAR, COVERAGE = 0.25, 0.1, 0.95
HOLD_DAYS, CLIP_SIGMA, YEAR_DAYS = 7.0, 6.0, 365.25
TRAINS, DRIFT_TRAINS = 30, 24
CAUTIONS = (0.05, 0.1, 0.15, 0.2, 0.3, 0.4, 0.5)
OWN_LIMITS = [[45.0, 21.8], [90.0, 18.1], [180.0, 14.4], [330.0, 12.5], [730.0, 10.7]]
STANDING: dict[str, tuple[object, str]] = {
    "limit_by_history": (
        OWN_LIMITS,
        "source changes, storms and set-points raise suspicion oftener than the budget; entries, which also "
        "need a ramp that matters, stay within it",
    ),
    "grab_limit": (3.4, "within the error of the derivation"),
    "grab_inflation": (1.6, "within the error of the derivation"),
    "own_inflation": (2.2, "few estimates; the measured coverage of all intervals is within its floor"),
    "run_caution": (0.15, "less would do for the budget on family A, but finds nothing more"),
}
"""Values that stand, and why they differ from what was derived."""


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
    """Factor by which estimated sds must grow for normal intervals to hold so much of the truth."""
    off = np.array([abs(one.error - one.truth) / one.sd for one in scatter])
    return round(float(np.quantile(off, coverage)) / 1.959964, 2)


def caution_for(every: Sequence[Healthy], a_year: float) -> tuple[float, float]:
    """Return the smallest caution that keeps healthy signals within the budget, and how often they fail."""
    years = sum(one.years for one in every)
    for caution in CAUTIONS:
        often = sum(_called_stuck(one, caution) for one in every) / years
        if often <= a_year:
            break
    return caution, often


def _called_stuck(one: Healthy, caution: float) -> int:
    usual = [longest_usual_run(past, years, caution=caution) for past, years in one.past_runs]
    return sum(int((runs > max(bar, 5)).sum()) for runs, bar in zip(one.runs, usual, strict=True))


def _mapped(work: Callable[[int], list[Any]], count: int) -> list[Any]:
    with get_context("spawn").Pool(2) as pool:
        return list(chain.from_iterable(pool.imap(work, range(SEED, SEED + count))))


def _own(every: Sequence[Healthy], history: int) -> list[Series]:
    return [Series(one.day, one.own[history], one.services, one.years) for one in every if history in one.own]


def derived() -> dict[str, dict[str, object]]:
    """Derive every threshold; for each its value and what it rests on."""
    sound: list[Healthy] = _mapped(healthy, TRAINS)
    scatter: list[Scatter] = _mapped(drifting, DRIFT_TRAINS)
    watched = [one for one in sound if one.is_watched_alone]
    days = sorted({history for one in watched for history in one.own})
    own = [[float(history), limit_for(_own(watched, history), 0.1, SUSPICIONS_A_YEAR)] for history in days]
    weekly = [Series(one.grab_day, one.grab, one.services, one.years) for one in sound]
    by = {name: [one for one in scatter if one.reference == name] for name in ("grab", "own")}
    caution, often = caution_for(sound, FROZEN_A_YEAR)
    suspicion = f"{SUSPICIONS_A_YEAR} suspicions a year of a healthy sensor"
    frozen = f"{FROZEN_A_YEAR} false stuck runs a year of a healthy sensor"
    held = f"95 % intervals hold {COVERAGE:.0%} of the true errors 56 days into a drift"
    rows = (
        ("limit_by_history", own, suspicion, len(watched)),
        ("grab_limit", limit_for(weekly, 0.3, SUSPICIONS_A_YEAR), suspicion, len(weekly)),
        ("grab_inflation", inflation_for(by["grab"], COVERAGE), held, len(by["grab"])),
        ("own_inflation", inflation_for(by["own"], COVERAGE), held, len(by["own"])),
        ("run_per_year", FROZEN_A_YEAR, "the budget itself: runs a year longer than allowed", len(sound)),
        ("run_caution", caution, f"{frozen}; measured {often:.3f}", len(sound)),
    )
    return {name: _noted(name, value, what, n) for name, value, what, n in rows}


def _noted(name: str, value: object, what: str, n: int) -> dict[str, object]:
    kept, why = STANDING.get(name, (value, ""))
    return {
        "value": kept, "derived": value, "what": what, "kept_because": why if kept != value else "",
        "n": n, "family": FAMILY, "seed": SEED, "date": today(),
    }  # fmt: skip


def main() -> None:
    """Derive, print beside what holds now, write."""
    parser = ArgumentParser(prog="python -m benchmarks.thresholds")
    parser.add_argument("--dry", action="store_true", help="print only")
    given = parser.parse_args()
    before = json.loads(FILE.read_text(encoding="utf-8")) if FILE.exists() else {}
    found = derived()
    for name, line in found.items():
        print(
            f"{name}: {before.get(name, {}).get('value')} -> {line['value']}, derived {line['derived']} "
            f"({line['what']}, n={line['n']})"
        )
    if not given.dry:
        FILE.write_text(json.dumps(found, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
