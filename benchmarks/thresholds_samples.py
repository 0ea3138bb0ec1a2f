"""Samples: what thresholds rest on: healthy sensors' errors and runs, and how far off estimates are."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from benchmarks.families import MEASURES, STEPS_A_DAY, Floats
from benchmarks.families_cases import case, day_end
from benchmarks.families_sensors import START, Order
from benchmarks.families_train import train
from pipeline.baseline.blocks import blocks_of
from pipeline.baseline.season import expectation
from pipeline.case import Case
from pipeline.checks.drift import Settings, bar_of
from pipeline.epoch import day_number
from pipeline.evidence.errors import QUARANTINE_DAYS, against_grabs, against_history
from pipeline.evidence.twin import against_twin
from pipeline.evidence.watch import latest
from pipeline.spc.mixture import Mixture
from pipeline.spc.runs import run_bounds

FAMILY = "A"
HISTORIES = (45, 90, 180, 330, 730)
LONG_DAYS, SCORED_DAYS = 826, 364
LEARN_DAYS, BLOCK_DAYS = 182, 28
EPOCH_DAY = day_number(START)


@dataclass(frozen=True)
class Healthy:
    """One healthy sensor.

    Parameters
    ----------
    is_watched_alone : bool
        Whether its own past is a reference for it.
    day, own : (n,) array [day], dict of int to (n,) array
        Scored days; by length of history, errors against the own past [sigma].
    grab_day, grab : (m,) arrays
        Errors against weekly grabs [sigma].
    services : tuple of float [day]
    years : float
    past_runs, runs : lists by block
        Lengths of the runs a block learns from with the years they span, and of those it holds.
    """

    is_watched_alone: bool
    day: Floats
    own: dict[int, Floats]
    grab_day: Floats
    grab: Floats
    services: tuple[float, ...]
    years: float
    past_runs: list[tuple[NDArray[np.int64], float]]
    runs: list[NDArray[np.int64]]


@dataclass(frozen=True)
class Scatter:
    """An estimate of the present error before any widening, and the truth [working scale]."""

    reference: str
    estimate: Mixture
    truth: float


def healthy(seed: int) -> list[Healthy]:
    """Return five healthy sensors over more than three years, the last of them scored."""
    orders = [Order("healthy", measure, "weekly") for measure in MEASURES]
    made = train(FAMILY, seed, orders, LONG_DAYS, SCORED_DAYS)
    end = day_end(LONG_DAYS + SCORED_DAYS)
    found = []
    for sensor in made.sensors:
        known = case(made, sensor, end)
        grabs = against_grabs(known)
        late = grabs.day >= EPOCH_DAY + LONG_DAYS
        day, own = _against_own_past(known)
        past_runs, runs = _runs(known)
        found.append(
            Healthy(
                sensor.measure.name in Settings().own_history, day, own, grabs.day[late],
                (grabs.error / grabs.sigma)[late],
                tuple(EPOCH_DAY + s[0] // STEPS_A_DAY for s in sensor.services),
                SCORED_DAYS / 365.25, past_runs, runs,
            )
        )  # fmt: skip
    return found


def _against_own_past(known: Case) -> tuple[Floats, dict[int, Floats]]:
    """Errors of the scored days in sigmas, for pasts of several lengths."""
    day = EPOCH_DAY + np.arange(known.daily.height, dtype=np.float64)
    value = known.daily["value"].to_numpy().astype(np.float64)
    own = {history: np.full(len(day), np.nan) for history in HISTORIES}
    for begin, here in blocks_of(day):
        if begin < EPOCH_DAY + LONG_DAYS - BLOCK_DAYS:
            continue
        for history in HISTORIES:
            past = (day < begin - QUARANTINE_DAYS) & (day >= begin - QUARANTINE_DAYS - history)
            norm = expectation(day[past], value[past])
            if norm is not None and norm.sd > 0:
                own[history][here] = (value[here] - norm.at(day[here])) / norm.sd
    late = day >= EPOCH_DAY + LONG_DAYS
    return day[late], {history: z[late] for history, z in own.items()}


def _runs(known: Case) -> tuple[list[tuple[NDArray[np.int64], float]], list[NDArray[np.int64]]]:
    """Lengths of runs by blocks of four weeks, with those of the half year before each."""
    sound = known.readings.filter("in_state")
    time = sound["time"].dt.epoch("us").to_numpy() / 86_400e6
    joined = np.append(False, np.diff(time) <= 2.0 / STEPS_A_DAY + 1e-9)
    first, last = run_bounds(sound["value"].to_numpy(), joined)
    start, length = time[first], last - first + 1
    begins = np.arange(time[0] + LONG_DAYS, time[-1], BLOCK_DAYS)
    past = [length[(start >= b - LEARN_DAYS) & (start < b)] for b in begins]
    here = [length[(start >= b) & (start < b + BLOCK_DAYS)] for b in begins]
    return [(runs, LEARN_DAYS / 365.25) for runs in past], here


def drifting(seed: int) -> list[Scatter]:
    """Return how far off the size of drifts is estimated 56 days on, by grabs, a twin and the own past."""
    found = []
    for name, reference, against in (
        ("grab", "weekly", against_grabs),
        ("twin", "twin", against_twin),
        ("own", "none", against_history),
    ):
        orders = [Order("drift", m, reference, "drift", 2.5, is_serviced=False) for m in MEASURES]
        made = train(FAMILY, seed, orders)
        for sensor in made.sensors:
            if name == "own" and sensor.measure.name not in Settings().own_history:
                continue
            day = int(sensor.faults[0].begin / STEPS_A_DAY + 56)
            known = case(made, sensor, day_end(day))
            errors = replace(against(known), inflation=1.0)
            now = latest(errors, bar_of(known, Settings()))
            truth = float(np.nanmean(sensor.error[day - 3 : day])) * sensor.measure.tolerance
            if now is not None:
                found.append(Scatter(name, now.now, truth))
    return found
