"""Bars of the checks of one tag's signal, on healthy sensors of family A.

Each bar is the lowest of a row at which healthy sensors stay within the budget. The checks are run as they
are, the bar alone is changed.
"""

from collections.abc import Sequence
from contextlib import ExitStack
from unittest.mock import patch

from benchmarks.families import MEASURES
from benchmarks.families_cases import case, day_end
from benchmarks.families_sensors import HISTORY_DAYS, SCORED_DAYS, Order
from benchmarks.families_train import train
from benchmarks.thresholds_line import FAMILY, mapped, noted
from pipeline import checks
from pipeline.case import Case
from pipeline.evidence import liveliness
from pipeline.evidence.thresholds import threshold
from pipeline.parts import parts

A_YEAR = 0.01
"""False findings a year of a healthy sensor, of each kind: forty sensors give one in two and a half years."""

NOTES_A_YEAR = 0.05
"""The same of kinds that are for the record only."""

NOTES = ("clock_shift",)
TRAINS = 24
YEARS = (HISTORY_DAYS + SCORED_DAYS) / 365.25

ROWS: dict[str, tuple[tuple[str, ...], tuple[float, ...]]] = {
    "liveliness": (("noisy", "damped"), (1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0)),
    "spikes": (("spikes",), (3.5, 4.0, 4.5, 5.0, 5.5, 6.0)),
    "spike_days": (("spikes",), (2.0, 3.0, 4.0, 5.0)),
    "pegged": (("pegged",), (1.0, 2.0, 3.0, 4.0)),
    "clock_shift": (("clock_shift",), (2.5, 3.0, 3.5, 4.0, 4.5, 5.0)),
}
"""By bar, the kinds that it guards and the heights that are tried, ascending."""

STANDING: dict[str, tuple[object, str]] = {
    "liveliness": (
        4.0,
        "the smallest ratio worth a visit keeps healthy sensors of family A away from the bar; real signals, "
        "whose scatter follows pumps and weather, stay below this one",
    ),
    "spike_days": (3.0, "the height of a spike does the work; real signals leap in bouts"),
    "pegged": (3.0, "no lower one would find more"),
}


def healthy(seed: int) -> list[dict[tuple[str, float], int]]:
    """Return how many findings every bar of every row gives, for five healthy sensors."""
    made = train(FAMILY, seed, [Order("healthy", measure, "none") for measure in MEASURES])
    end = day_end(HISTORY_DAYS + SCORED_DAYS)
    return [_counts(case(made, sensor, end)) for sensor in made.sensors]


def _counts(known: Case) -> dict[tuple[str, float], int]:
    return {
        (name, height): sum(_found(known, kind, name, height) for kind in kinds)
        for name, (kinds, heights) in ROWS.items()
        for height in heights
    }


def _found(known: Case, kind: str, name: str, height: float) -> int:
    check = parts(checks)[kind]

    def other(asked: str) -> float:
        return height if asked == name else threshold(asked)

    with ExitStack() as stack:
        for place in (check, liveliness):
            if hasattr(place, "threshold"):
                stack.enter_context(patch.object(place, "threshold", other))
        return len(list(check.find(known, check.Settings())))


def lowest(every: Sequence[dict[tuple[str, float], int]], name: str, a_year: float) -> tuple[float, float]:
    """Return the lowest bar within the budget, and how often it fails; the highest where none is."""
    often = 0.0
    for height in ROWS[name][1]:
        often = sum(one[name, height] for one in every) / (len(every) * YEARS)
        if often <= a_year:
            break
    return height, often


def derived() -> dict[str, dict[str, object]]:
    """Derive the bars of the signals; for each its value and what it rests on."""
    every = mapped(healthy, TRAINS)
    lines = {}
    for name, (kinds, _) in ROWS.items():
        a_year = NOTES_A_YEAR if name in NOTES else A_YEAR
        height, often = lowest(every, name, a_year)
        budget = f"{a_year} false findings ({', '.join(kinds)}) a year of a healthy sensor"
        lines[name] = noted(name, height, f"{budget}; measured {often:.3f}", len(every), STANDING)
    return lines
