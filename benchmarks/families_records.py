"""Records: what is kept of a sensor (record, bench results, logbook, twin), and the truth beside it."""

from dataclasses import replace

import numpy as np

from benchmarks.families import (
    STEPS_A_DAY,
    Bools,
    Family,
    Floats,
    Ints,
    Measure,
    memory,
    shown_as,
    working_of,
)
from benchmarks.faults import Fault, accrued


def recorded(measure: Measure, shown: Floats, running: Bools, may_leave_span: bool) -> Floats:
    """Return what the recorder keeps: rounded, within the span, at nothing while the plant stands still."""
    if not may_leave_span:
        shown = np.clip(shown, measure.low, measure.high)
    if measure.name == "flow":
        shown = np.where(running | np.isnan(shown), shown, 0.0)
    decimals = max(0, round(-np.log10(measure.resolution)))
    return np.round(np.round(shown / measure.resolution) * measure.resolution, decimals)


def truth(measure: Measure, shown: Floats, course: Floats, running: Bools) -> Floats:
    """Return each day's median of instrument minus water [tolerances]; NaN where too little was shown."""
    off = np.where(running, working_of(measure, shown) - course, np.nan).reshape(-1, STEPS_A_DAY)
    known = np.isfinite(off).sum(axis=1) >= STEPS_A_DAY // 8
    error = np.full(len(off), np.nan)
    error[known] = np.nanmedian(off[known], axis=1)
    return error / measure.tolerance


def grabs(
    random: np.random.Generator,
    family: Family,
    reference: str,
    measure: Measure,
    course: Floats,
    running: Bools,
) -> list[tuple[int, int, float]]:
    """Bench results at the truth of the water, a few forgotten, the minute not always right."""
    every = {"weekly": 7, "daily": 1}.get(reference)
    if every is None:
        return []
    days = np.arange(random.integers(0, every), len(course) // STEPS_A_DAY - 1, every)
    rows = (days * STEPS_A_DAY + random.integers(7 * 4, 15 * 4, len(days))).astype(int)
    scatter = random.standard_normal(len(days))
    if np.isfinite(family.tail_df):
        scatter = random.standard_t(family.tail_df, len(days)) / np.sqrt(
            family.tail_df / (family.tail_df - 2)
        )
    kept = (random.random(len(days)) > 0.03) & running[rows]
    values = shown_as(measure, course[rows] + measure.lab_sd * scatter)
    return in_the_book(random, measure, rows, values, kept)


def in_the_book(
    random: np.random.Generator, measure: Measure, rows: Ints, values: Floats, kept: Bools
) -> list[tuple[int, int, float]]:
    """Bench results as written down, ``row, minutes off, value``: rounded, the minute about right."""
    off = random.integers(-7, 8, len(rows))
    decimals = max(0, round(-np.log10(measure.resolution)))
    return [
        (int(row), int(minute), round(float(value), decimals))
        for row, minute, value, keep in zip(rows, off, values, kept, strict=True)
        if keep and value > 0
    ]


def written(
    random: np.random.Generator,
    reference: str,
    measure: Measure,
    plan: list[tuple[int, str]],
    slow: Floats,
    left: list[float],
) -> list[tuple[int, str, float, float]]:
    """Lines of the logbook: found and left [error, working scale] where steps are written down, else NaN."""
    told = reference == "steps"
    noise = 0.05 * measure.tolerance * random.standard_normal((len(plan), 2))
    return [
        (row, kind, slow[row - 1] + scatter[0], after + scatter[1]) if told else (row, kind, np.nan, np.nan)
        for (row, kind), after, scatter in zip(plan, left, noise, strict=True)
    ]


def twin(
    random: np.random.Generator, reference: str, measure: Measure, course: Floats, faults: tuple[Fault, ...]
) -> Floats | None:
    """Return what a near-duplicate in the same water shows; None where there is none."""
    if reference != "twin" and not any(fault.kind == "twin" for fault in faults):
        return None
    count = len(course)
    shown = (
        course
        + 0.25 * measure.day_sd * memory(random, count, 20.0)
        + measure.fast_sd * random.standard_normal(count)
    )
    for fault in faults:
        if fault.kind == "twin":
            drifting = replace(fault, kind="drift")
            shown = shown + accrued(drifting, measure, np.arange(count, dtype=float), np.full(count, -np.inf))
    return recorded(measure, shown_as(measure, shown), np.ones(count, dtype=bool), False)
