"""Bar of the snaps, on healthy sensors of family A: what is no jump of the signal's own."""

from collections.abc import Sequence
from dataclasses import replace
from unittest.mock import patch

import numpy as np

from benchmarks.families import MEASURES
from benchmarks.families_cases import case, day_end
from benchmarks.families_sensors import HISTORY_DAYS, SCORED_DAYS, Order, Sensor
from benchmarks.families_train import train
from benchmarks.thresholds_line import FAMILY, mapped, noted
from pipeline.case import Case
from pipeline.checks import strayed

A_YEAR = 0.1
"""False notes a year of a healthy sensor: one in ten years."""

TRAINS = 48
YEARS = (HISTORY_DAYS + SCORED_DAYS) / 365.25
TIMES = (0.5, 0.75, 1.0, 1.25, 1.5, 2.0)
"""Bars that are tried, in highest usual jumps, ascending."""

DISPLAY = {"ph": 0.1, "chlorine": 0.1, "turbidity": 1.0, "temperature": 0.5}
"""Steps so coarse that readings mostly repeat the one before [unit]."""

STANDING: dict[str, tuple[object, str]] = {
    "strayed": (
        1.5,
        "simulated water has no fronts and keeps the budget far lower; real water (tides, plumes) jumps a "
        "little higher than it did before, hardly ever by half: two notes in 31 sensor-years of open probe "
        "records that no code bears out, eight that one does",
    ),
}


def healthy(seed: int, family: str = FAMILY, is_coarse: bool = False) -> list[dict[float, int]]:
    """Return how many notes every bar gives, for the analysers of one train, on a coarse display or as is."""
    measures = [measure for measure in MEASURES if measure in strayed.ANALYSERS]
    made = train(family, seed, [Order("healthy", measure, "none") for measure in measures])
    end = day_end(HISTORY_DAYS + SCORED_DAYS)
    sensors = [coarse(sensor) for sensor in made.sensors] if is_coarse else made.sensors
    known = [case(made, sensor, end) for sensor in sensors]
    return [{times: notes(one, times) for times in TIMES} for one in known]


def coarse(sensor: Sensor) -> Sensor:
    """Return a sensor as a display in steps of `DISPLAY` shows it."""
    step = DISPLAY[sensor.measure.name]
    shown = np.round(np.round(sensor.shown / step) * step, 2)
    return replace(sensor, shown=shown, measure=replace(sensor.measure, resolution=step))


def notes(known: Case, times: float) -> int:
    """Return how many notes the check gives with its bar at so many highest usual jumps."""
    with patch.object(strayed, "threshold", lambda _: times):
        return len(list(strayed.find(known, strayed.Settings())))


def often(every: Sequence[dict[float, int]], times: float) -> float:
    """Return the notes a sensor and year."""
    return sum(one[times] for one in every) / (len(every) * YEARS)


def derived() -> dict[str, dict[str, object]]:
    """Derive the lowest bar within the budget."""
    every = mapped(healthy, TRAINS)
    value = next((times for times in TIMES if often(every, times) <= A_YEAR), TIMES[-1])
    what = f"{A_YEAR} false notes (strayed) a year of a healthy sensor; measured {often(every, value):.3f}"
    return {"strayed": noted("strayed", value, what, len(every), STANDING)}
