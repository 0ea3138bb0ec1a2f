"""Third family, records: bench results, a near-duplicate, and broken recordings at any pace."""

from dataclasses import replace

import numpy as np

from benchmarks.families import STEPS_A_DAY, Floats, Measure, shown_as
from benchmarks.families_records import in_the_book, recorded
from benchmarks.families_third import scatter
from benchmarks.families_third_errors import healthy
from benchmarks.families_third_events import Plant
from benchmarks.faults import Fault, accrued, broken_record

SKIPPED_SHARE = 0.05
ANALYST_SHARE = 0.4
"""How far the two analysts are from the middle between them, as a share of the scatter of the bench."""

TURN_DAYS = 14
EARLY_ROW, LATE_ROW = 7 * 4, 8 * 4 - 1  # before a night plant goes off, summer and winter
SPIKES_A_DAY = 2.0


def bench_results(
    random: np.random.Generator, reference: str, measure: Measure, course: Floats, happened: Plant
) -> list[tuple[int, int, float]]:
    """Grabs at the truth of the water as ``row, minutes off, value``.

    Two analysts take turns of two weeks, one a little high, one a little low; daily grabs rest on Sundays.
    """
    if reference not in ("weekly", "daily"):
        return []
    days = np.arange(len(course) // STEPS_A_DAY - 1)
    weekday = random.integers(0, 5)
    days = days[days % 7 == weekday] if reference == "weekly" else days[days % 7 != 6]
    last = LATE_ROW if happened.is_night_plant else 14 * 4
    rows = days * STEPS_A_DAY + random.integers(EARLY_ROW, last, len(days))
    by = np.where(days // TURN_DAYS % 2 == 0, 1.0, -1.0) * ANALYST_SHARE
    own = np.sqrt(1 - ANALYST_SHARE**2) * random.laplace(0.0, np.sqrt(0.5), len(days))
    kept = (random.random(len(days)) > SKIPPED_SHARE) & happened.running[rows]
    values = shown_as(measure, course[rows] + measure.lab_sd * (by + own))
    return in_the_book(random, measure, rows, values, kept)


def twin(
    random: np.random.Generator,
    reference: str,
    measure: Measure,
    course: Floats,
    faults: tuple[Fault, ...],
    happened: Plant,
) -> Floats | None:
    """Return what a near-duplicate in the same water shows, itself serviced each quarter; None if none."""
    ordered = [replace(fault, kind="drift") for fault in faults if fault.kind == "twin"]
    if reference != "twin" and not ordered:
        return None
    count = len(course)
    rows = np.arange(random.integers(10, 91) * STEPS_A_DAY, count, 91 * STEPS_A_DAY)
    error, _ = healthy(random, measure, [(int(row), "calibration") for row in rows], count)
    working = course + error + scatter(random, measure, count)
    for fault in ordered:
        working = working + accrued(fault, measure, np.arange(count, dtype=float), np.full(count, -np.inf))
    shown = recorded(measure, shown_as(measure, working), happened.running, False)
    return np.where(happened.lost, np.nan, shown)


def at_pace(kept: Floats, pace: int, step_s: int) -> tuple[Floats, Floats | None]:
    """Return what is kept on the grid, and between its rows where the recorder is finer.

    Parameters
    ----------
    kept : (n * pace,) array [unit]
        At the recorder's own pace; NaN = nothing.
    pace : int
        Readings a row of the grid.
    step_s : int [s]
        From reading to reading; a coarser recorder than the grid leaves rows out.
    """
    shown, between = kept[::pace].copy(), None
    if pace > 1:
        between = kept.reshape(-1, pace)[:, 1:].copy()
    if step_s > 900:
        shown[np.arange(len(shown)) % (step_s // 900) != 0] = np.nan
    return shown, between


def broken(
    random: np.random.Generator, fault: Fault, measure: Measure, working: Floats, other: Floats, step_s: int
) -> Floats:
    """Return the readings [unit] with a fault of the recording in them, at the tag's own pace.

    `broken_record` counts in rows of a quarter of an hour: rows and hours are stretched to the pace. Spikes
    hit about two readings a day that are kept, whatever the pace.
    """
    pace = max(1, 900 // step_s)
    here = replace(fault, begin=fault.begin * pace, end=fault.end * pace)
    if fault.kind in ("damped", "clock"):
        here = replace(here, size=fault.size * pace)
    if fault.kind != "spikes":
        return broken_record(random, here, measure, working, other)
    kept = np.arange(len(working)) % max(1, step_s // 900) == 0
    chance = SPIKES_A_DAY * step_s / 86400.0
    row = np.arange(len(working))
    hit = kept & (random.random(len(working)) < chance) & (row >= here.begin) & (row < here.end)
    sign = random.choice([-1.0, 1.0], len(working))
    return shown_as(measure, working + hit * sign * fault.size * 1.5 * measure.fast_sd)
