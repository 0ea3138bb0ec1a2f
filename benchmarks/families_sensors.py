"""Sensors: a train's instruments on simulated water, healthy as instruments are, or with one fault each.

Healthy means: drifting by up to 40 % of the tolerance from service to service, a little wander besides, three
services in four take the error away. The truth is the error itself: instrument minus water.
"""

from dataclasses import dataclass, field
from functools import cache
from itertools import pairwise
from typing import Any
from zlib import crc32

import numpy as np
import polars as pl

from benchmarks import families_records as records
from benchmarks.families import (
    FAMILIES,
    MEASURES,
    STEPS_A_DAY,
    Bools,
    Clock,
    Family,
    Floats,
    Measure,
    events,
    memory,
    shown_as,
    water,
    working_of,
)
from benchmarks.faults import ERROR_KINDS, RECORD_KINDS, SHIFT, Fault, accrued, broken_record
from pipeline.clock import midnight, to_local, zone_of
from pipeline.table import TIME

ZONE = zone_of("America/Denver")
START = pl.Series([0]).cast(pl.Date).dt.offset_by("19905d")[0]  # Monday 1 July 2024
HISTORY_DAYS, SCORED_DAYS = 62 * 7, 26 * 7
LONG_SERVICE_DAYS = 182.0
NATURAL_SHARE = 0.4
RESET_SHARE = 0.75


@dataclass(frozen=True)
class Order:
    """What one sensor shall be.

    Parameters
    ----------
    group : str
        Under which name it is scored.
    measure : str
    reference : {"none", "weekly", "daily", "twin", "steps"}
        Steps: what a calibration found and left is written down, every 30 days.
    kind : str
        Of its fault; empty for none.
    size : float
    is_serviced : bool
        Serviced as usual. Otherwise its last service is early in the scored half year, the next not due.
    times : int
        How often a fault of hours strikes.
    """

    group: str
    measure: str
    reference: str
    kind: str = ""
    size: float = 0.0
    is_serviced: bool = True
    times: int = 1


@dataclass(frozen=True)
class Sensor:
    """One instrument and all that is recorded and known of it.

    Parameters
    ----------
    order : Order
    name : str
    shown : (n,) array [unit]
        NaN = nothing recorded.
    error : (days,) array [tolerances]
        Truth: median of the day's instrument minus water; NaN where nothing was shown.
    grabs : list of (row, minutes off, value)
    services : list of (row, kind, found, left)
    service_days : float
    faults : tuple of Fault
    twin : (n,) array or None [unit]
        What a near-duplicate in the same water shows.
    step_s : int [s]
        From reading to reading.
    between : (n, readings - 1) array or None [unit]
        What a finer recorder keeps after each row of the grid, evenly apart.
    heartbeat_s : int or None [s]
        Of a recorder that keeps only changes; None for one that keeps every reading.
    """

    order: Order
    name: str
    measure: Measure
    shown: Floats
    error: Floats
    grabs: list[tuple[int, int, float]]
    services: list[tuple[int, str, float, float]]
    service_days: float
    faults: tuple[Fault, ...]
    twin: Floats | None
    step_s: int = 900
    between: Floats | None = None
    heartbeat_s: int | None = None


@dataclass(frozen=True)
class Train:
    """Sensors in the same water.

    Parameters
    ----------
    time : Series
        UTC.
    running : (n,) array of bool
        False while the plant stands still and no reading means anything.
    sensors : list of Sensor
    """

    time: pl.Series
    running: Bools
    sensors: list[Sensor]
    kept: dict[Any, Any] = field(default_factory=dict, repr=False, compare=False)
    """What its sensors share, as the job shares it among the tags of one condition."""


@cache
def grid(days: int) -> tuple[pl.Series, Clock]:
    """UTC times of so many days from `START` on, and what the wall clock shows."""
    first = int(midnight(START, ZONE).timestamp()) * 1_000_000
    stamps = pl.Series("time", first + np.arange(days * STEPS_A_DAY, dtype=np.int64) * 900_000_000)
    time = stamps.cast(pl.Datetime("us")).dt.replace_time_zone("UTC").cast(TIME)
    local = time.to_frame().select(to_local(pl.col("time"), ZONE).alias("local"))["local"]
    hour = local.dt.hour().to_numpy() + local.dt.minute().to_numpy() / 60.0
    return time, Clock(np.arange(len(time)) / STEPS_A_DAY, hour, local.dt.weekday().to_numpy() > 5)


def train(
    family: str,
    seed: int,
    orders: list[Order],
    history_days: int = HISTORY_DAYS,
    scored_days: int = SCORED_DAYS,
) -> Train:
    """Return a simulated train of family A or B; the same arguments give the same sensors."""
    shape = FAMILIES[family]
    random = np.random.default_rng([seed, crc32(family.encode())])
    time, clock = grid(history_days + scored_days)
    happened = events(random, shape, clock)
    sensors: list[Sensor] = []
    for number, order in enumerate(orders):
        own = np.random.default_rng([seed, crc32(family.encode()), number])
        measure = MEASURES[order.measure]
        course = water(own, shape, measure, clock, happened)
        other = sensors[-1].shown if sensors else shown_as(measure, course + 0.1)
        made = _sensor(
            own, shape, order, f"AIT-{number + 1:03d}", course, happened.running, other, history_days
        )
        sensors.append(made)
    return Train(time, happened.running, sensors)


def _sensor(
    random: np.random.Generator,
    family: Family,
    order: Order,
    name: str,
    course: Floats,
    running: Bools,
    other: Floats,
    history_days: int,
) -> Sensor:
    measure, count = MEASURES[order.measure], len(course)
    interval = _interval(order, measure)
    plan = _plan(random, order, interval, count, history_days)
    faults = _faults(random, order, plan, count, history_days)
    slow, left = _natural(random, measure, plan, count, interval)
    row = np.arange(count, dtype=np.float64)
    for fault in faults:
        if fault.kind == SHIFT:
            course = course + (row >= fault.begin) * random.choice([-1.0, 1.0]) * fault.size * measure.day_sd
        if fault.kind in ERROR_KINDS:
            slow = slow + random.choice([-1.0, 1.0]) * accrued(
                fault, measure, row, _clean_since(plan, fault, count)
            )
    sound = course + slow + measure.fast_sd * random.standard_normal(count)
    shown = shown_as(measure, sound)
    for fault in faults:
        if fault.kind in RECORD_KINDS:
            shown = broken_record(random, fault, measure, working_of(measure, shown), other)
    shown = records.recorded(measure, shown, running, any(fault.kind == "out_of_range" for fault in faults))
    return Sensor(
        order, name, measure, shown, records.truth(measure, shown, course, running),
        records.grabs(random, family, order.reference, measure, course, running),
        records.written(random, order.reference, measure, plan, slow, _left(plan, faults, slow, left)),
        interval, faults,
        records.twin(random, order.reference, measure, course, faults),
    )  # fmt: skip


def _left(
    plan: list[tuple[int, str]], faults: tuple[Fault, ...], slow: Floats, natural: list[float]
) -> list[float]:
    """Error that each service left [working scale], as its standard shows it: a wrong standard shows none."""
    wrong = {fault.begin for fault in faults if fault.kind == "step"}
    return [
        sound if row in wrong else float(slow[row]) for (row, _), sound in zip(plan, natural, strict=True)
    ]


def _interval(order: Order, measure: Measure) -> float:
    if not order.is_serviced:
        return LONG_SERVICE_DAYS
    return 30.0 if order.reference == "steps" else measure.service_days


def _plan(
    random: np.random.Generator, order: Order, interval: float, count: int, history_days: int
) -> list[tuple[int, str]]:
    """Rows and kinds of the services; those that take the error away are calibrations."""
    waits = interval * random.uniform(0.8, 1.2, int(count / STEPS_A_DAY / interval / 0.8) + 2)
    days = random.uniform(0, interval) + np.cumsum(waits) - waits[0]
    if not order.is_serviced:
        last = history_days + random.uniform(0, 10)
        days = np.arange(last, 0, -interval)[::-1]
    days = np.floor(days[days < count / STEPS_A_DAY - 1]) + random.uniform(9, 15, 1)[0] / 24
    kinds = np.where(random.random(len(days)) < RESET_SHARE, "calibration", "cleaning")
    if not order.is_serviced and len(kinds):
        kinds[-1] = "calibration"
    return [(int(day * STEPS_A_DAY), str(kind)) for day, kind in zip(days, kinds, strict=True)]


def _faults(
    random: np.random.Generator, order: Order, plan: list[tuple[int, str]], count: int, history_days: int
) -> tuple[Fault, ...]:
    if not order.kind:
        return ()
    first = history_days * STEPS_A_DAY
    hours = {"stuck": order.size, "gap": order.size, "out_of_range": order.size}
    if order.times > 1:
        # Further apart than what is taken for one trouble.
        begins = first + (np.arange(order.times) * 24 + random.uniform(5, 12, order.times)) * STEPS_A_DAY
        return tuple(Fault(order.kind, int(b), int(b + hours[order.kind] * 4), order.size) for b in begins)
    begin = first + int(random.uniform(14, 56 if not order.is_serviced else 130) * STEPS_A_DAY)
    if order.kind == "step":
        later = [row for row, kind in plan if row >= begin and kind == "calibration"]
        begin = later[0] if later else begin
    end = begin + int(hours[order.kind] * 4) if order.kind in hours else count
    return (Fault(order.kind, begin, min(end, count), order.size),)


def _clean_since(plan: list[tuple[int, str]], fault: Fault, count: int) -> Floats:
    """Row of the last service that took the error away, at each row; fouling goes with every cleaning."""
    since = np.full(count, -np.inf)
    for row, kind in plan:
        if kind == "calibration" or fault.kind == "fouling":
            since[row:] = row
    return since


def _natural(
    random: np.random.Generator, measure: Measure, plan: list[tuple[int, str]], count: int, interval: float
) -> tuple[Floats, list[float]]:
    """Error of a healthy instrument, and what each service left of it [working scale]."""
    error = 0.06 * measure.tolerance * memory(random, count, 20.0)
    habit, now, left = random.choice([-1.0, 1.0]), 0.0, []
    edges = [0, *(row for row, _ in plan), count]
    for number, (begin, end) in enumerate(pairwise(edges)):
        if number:
            is_reset = plan[number - 1][1] == "calibration"
            now = 0.05 * measure.tolerance * random.standard_normal() if is_reset else 0.5 * now
            left.append(now)
        sign = habit if random.random() < 0.8 else -habit
        reach = sign * random.uniform(0.05, NATURAL_SHARE) * measure.tolerance
        ramp = now + reach * np.arange(end - begin) / (interval * STEPS_A_DAY)
        error[begin:end] += ramp
        now = float(ramp[-1]) if end > begin else now
    return error, left
