"""Third family, sensors: trains of family C, recorded every five minutes, fifteen minutes or hour.

The bench's grid stays a quarter of an hour: an hourly tag leaves three of its rows empty, a five-minute tag
carries what lies between them beside. Tags with a twin or a copy in their train stay on the grid and at the
usual decimals, for two records are held against each other there. A quarter of the converters have ten bits,
so that readings come in counts, and one tag in six is kept more coarsely than usual (common practice, no
source).
"""

from dataclasses import dataclass, replace
from zlib import crc32

import numpy as np

from benchmarks import families_records as records
from benchmarks import families_third_errors as errors
from benchmarks.families import STEPS_A_DAY, Clock, Floats, Measure, shown_as, working_of
from benchmarks.families_sensors import Order, Sensor, Train, grid
from benchmarks.families_third import THIRD_MEASURES, scatter, water
from benchmarks.families_third_events import Plant, plant
from benchmarks.families_third_records import at_pace, bench_results, broken, twin
from benchmarks.faults import ERROR_KINDS, RECORD_KINDS, SHIFT, Fault, accrued

STEP_SHARES = ((300, 0.15), (900, 0.6), (3600, 0.25))
TRIMMED_SHARE = 0.25
"""Of the chlorine analysers: their own error never shows in their reading, only beside grabs or a twin."""

COUNTS_SHARE, COUNTS = 0.25, 1024
COARSE_SHARE = 1 / 6
COARSE = {"ph": 5, "chlorine": 2, "turbidity": 5, "temperature": 2, "flow": 5}
LOST_SHARE = 0.001
SHIFT_HOURS = 6


@dataclass(frozen=True)
class _Tag:
    """What one tag is before anything is recorded of it: how it is read and how wrong it is."""

    order: Order
    measure: Measure
    step_s: int
    counts: float  # smallest step of its converter [unit]; 0 where it is too fine to matter
    is_trimmed: bool
    plan: errors.Plan
    faults: tuple[Fault, ...]
    slow: Floats  # error of the instrument [working scale]
    left: list[float]

    @property
    def pace(self) -> int:
        """Readings a row of the grid."""
        return 900 // self.step_s if self.step_s < 900 else 1


def train(seed: int, orders: list[Order], history_days: int, scored_days: int) -> Train:
    """Return a simulated train; the same arguments give the same sensors."""
    key = [seed, crc32(b"family C")]
    time, clock = grid(history_days + scored_days)
    happened = plant(np.random.default_rng(key), clock, time[0].hour + time[0].minute / 60)
    is_copied = any(order.kind == "copied" for order in orders)
    sensors: list[Sensor] = []
    other: Floats | None = None
    for number, order in enumerate(orders):
        own = np.random.default_rng([*key, number])
        tag = _tag(own, order, happened, is_copied, history_days)
        course = _course(own, tag, clock, happened)
        full = _shown(own, tag, course, happened, other)
        other = full[:: tag.pace]
        sensors.append(_sensor(own, tag, f"AIT-{number + 1:03d}", course, full, clock, happened))
    return Train(time, happened.running, sensors)


def _tag(
    random: np.random.Generator, order: Order, happened: Plant, is_copied: bool, history_days: int
) -> _Tag:
    measure, count = THIRD_MEASURES[order.measure], len(happened.running)
    coarse = COARSE.get(measure.name, 1) if random.random() < COARSE_SHARE and not is_copied else 1
    measure = replace(measure, resolution=measure.resolution * coarse)
    steps, shares = zip(*STEP_SHARES, strict=True)
    step_s = int(random.choice(steps, p=shares))
    stays = is_copied or order.reference == "twin" or order.kind == "twin"
    counts = (measure.high - measure.low) / COUNTS if random.random() < COUNTS_SHARE else 0.0
    plan = errors.services(random, order, count, history_days)
    made = errors.faults(random, order, plan, happened.running, history_days)
    slow, left = errors.healthy(random, measure, plan, count)
    row = np.arange(count, dtype=np.float64)
    for fault in made:
        if fault.kind in ERROR_KINDS:
            grown = accrued(fault, measure, row, errors.clean_since(plan, fault, count))
            slow = slow + random.choice([-1.0, 1.0]) * grown
    return _Tag(
        order, measure, 900 if stays else step_s, 0.0 if measure.name == "turbidity" else counts,
        measure.name == "chlorine" and bool(random.random() < TRIMMED_SHARE), plan, made, slow, left,
    )  # fmt: skip


def _course(random: np.random.Generator, tag: _Tag, clock: Clock, happened: Plant) -> Floats:
    """Return the true course of the water, moved for good where that is ordered [working scale]."""
    measure = THIRD_MEASURES[tag.order.measure]
    course = water(random, measure, clock, happened, tag.is_trimmed)
    if tag.is_trimmed:
        course = course - tag.slow
    row = np.arange(len(course))
    for fault in tag.faults:
        if fault.kind == SHIFT:
            share = np.clip((row - fault.begin) / (SHIFT_HOURS * STEPS_A_DAY / 24), 0.0, 1.0)
            course = course + random.choice([-1.0, 1.0]) * fault.size * measure.day_sd * share
    return course


def _shown(
    random: np.random.Generator, tag: _Tag, course: Floats, happened: Plant, other: Floats | None
) -> Floats:
    """Return what the recorder would keep at the tag's own pace if nothing were lost [unit]."""
    count, pace = len(course), tag.pace
    row = np.arange(count * pace) / pace
    working = np.interp(row, np.arange(count), course) + np.repeat(tag.slow, pace)
    working = working + scatter(random, tag.measure, count * pace)
    shown = shown_as(tag.measure, working)
    if tag.counts:
        shown = np.round(shown / tag.counts) * tag.counts
    for fault in tag.faults:
        if fault.kind in RECORD_KINDS:
            beside = shown_as(tag.measure, course + 0.1) if other is None else other
            shown = broken(
                random,
                fault,
                tag.measure,
                working_of(tag.measure, shown),
                np.repeat(beside, pace),
                tag.step_s,
            )
    leaves = any(fault.kind == "out_of_range" for fault in tag.faults)
    return records.recorded(tag.measure, shown, np.repeat(happened.running, pace), leaves)


def _sensor(
    random: np.random.Generator,
    tag: _Tag,
    name: str,
    course: Floats,
    full: Floats,
    clock: Clock,
    happened: Plant,
) -> Sensor:
    order, measure = tag.order, tag.measure
    error = records.truth(measure, full[:: tag.pace], course, happened.running)
    lost = np.repeat(happened.lost, tag.pace) | (random.random(len(full)) < LOST_SHARE)
    kept = np.where(lost, np.nan, full)
    shown, between = at_pace(kept, tag.pace, tag.step_s)
    return Sensor(
        order, name, measure, shown, error,
        bench_results(random, order.reference, THIRD_MEASURES[order.measure], course, happened),
        records.written(random, order.reference, measure, tag.plan, tag.slow, tag.left),
        errors.interval_days(order), tag.faults,
        twin(random, order.reference, measure, course, tag.faults, happened),
        tag.step_s, between,
    )  # fmt: skip
