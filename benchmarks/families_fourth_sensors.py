"""Fourth family, sensors: trains of family D with what is recorded, sampled and written down of them.

Services come at uneven intervals; some are left out, some only clean or only check, and one in seven is never
written down. What fouls goes with a cleaning, what ages only with a calibration. Common practice, no source.
"""

from dataclasses import dataclass, replace
from itertools import pairwise
from zlib import crc32

import numpy as np

from benchmarks import families_third_errors as third
from benchmarks.families import STEPS_A_DAY, Floats, Measure, memory, shown_as, working_of
from benchmarks.families_fourth import ROLES, WASTE, WATER, Role, rounded
from benchmarks.families_fourth_water import Course, plant, true_course
from benchmarks.families_records import truth, written
from benchmarks.families_sensors import Order, Sensor, Train, grid
from benchmarks.families_third_records import at_pace, broken
from benchmarks.faults import ERROR_KINDS, RECORD_KINDS, SHIFT, Fault, accrued

STEP_SHARES = ((300, 0.25), (900, 0.6), (3600, 0.15))
SKIPPED_SHARE, UNWRITTEN_SHARE = 0.1, 1 / 7
KINDS = (("calibration", 0.6), ("cleaning", 0.3), ("check", 0.1))
FOULING_SHARE = 0.6
KIT_SHARE, KIT_TOLERANCES = 0.15, (0.3, 0.6)
TYPO_SHARE, MISSED_SHARE = 0.005, 0.05
HEAVY_DF = 4.0
LOST_SHARE, OUTAGES = 0.002, 6.0  # a year

Plan = list[tuple[int, str]]


@dataclass(frozen=True)
class _Tag:
    """What one tag is before anything is recorded of it."""

    order: Order
    role: Role
    step_s: int
    plan: Plan
    faults: tuple[Fault, ...]
    slow: Floats  # error [working scale]
    left: list[float]

    @property
    def pace(self) -> int:
        """Readings a row of the grid."""
        return max(1, 900 // self.step_s)


def train(seed: int, orders: list[Order], history_days: int, scored_days: int) -> Train:
    """Return a simulated train; the same arguments give the same sensors."""
    key = [seed, crc32(b"family D")]
    time, clock = grid(history_days + scored_days)
    is_waste = any(order.measure in WASTE and order.measure not in WATER for order in orders)
    happened = plant(np.random.default_rng(key), clock, time[0].hour + time[0].minute / 60, is_waste)
    lost = _outages(np.random.default_rng([*key, 10_000]), len(time))
    sensors: list[Sensor] = []
    other: Floats | None = None
    for number, order in enumerate(orders):
        own = np.random.default_rng([*key, number])
        tag = _tag(own, order, happened, any(o.kind == "copied" for o in orders), history_days)
        course = true_course(own, tag.role, clock, happened)
        for fault in tag.faults:
            if fault.kind == SHIFT:
                moved = np.clip((np.arange(len(course)) - fault.begin) / 24.0, 0.0, 1.0)
                course = course + own.choice([-1.0, 1.0]) * fault.size * tag.role.measure.day_sd * moved
        full = _shown(own, tag, course, happened, other)
        other = full[:: tag.pace]
        sensors.append(_sensor(own, tag, f"AIT-{number + 1:03d}", course, full, happened, lost))
    return Train(time, happened.running, sensors)


def _outages(random: np.random.Generator, count: int) -> Floats:
    """Rows that the recorder lost, up to an hour and a half on end."""
    lost = np.zeros(count, dtype=bool)
    for begin in random.integers(0, count, random.poisson(OUTAGES * count / STEPS_A_DAY / 365)):
        lost[begin : begin + random.integers(1, 7)] = True
    return lost


def _tag(
    random: np.random.Generator, order: Order, happened: Course, is_copied: bool, history_days: int
) -> _Tag:
    role, count = ROLES[order.measure], len(happened.running)
    steps, shares = zip(*STEP_SHARES, strict=True)
    step_s = int(random.choice(steps, p=shares))
    stays = is_copied or order.kind == "twin" or order.reference == "twin"
    plan = _plan(random, order, role, count, history_days)
    made = third.faults(random, order, plan, happened.running, history_days)
    slow, left = _healthy(random, role, plan, count, _interval(order, role))
    row = np.arange(count, dtype=np.float64)
    for fault in made:
        if fault.kind in ERROR_KINDS:
            acts = [one for one in plan if one[1] != "check"]
            grown = accrued(fault, role.measure, row, third.clean_since(acts, fault, count))
            slow = slow + random.choice([-1.0, 1.0]) * grown
    return _Tag(order, role, 900 if stays else step_s, plan, made, slow, left)


def _interval(order: Order, role: Role) -> float:
    if not order.is_serviced:
        return third.interval_days(order)
    return 30.0 if order.reference == "steps" else role.measure.service_days


def _plan(random: np.random.Generator, order: Order, role: Role, count: int, history_days: int) -> Plan:
    """Rows and kinds of what is done to an instrument, on working days, written down or not."""
    if not order.is_serviced:
        return third.services(random, order, count, history_days)
    interval, days = _interval(order, role), count / STEPS_A_DAY
    waits = interval * random.lognormal(-0.08, 0.4, int(3 * days / interval) + 5)
    due = np.floor(random.uniform(0, interval) + np.cumsum(waits) - waits[0])
    due = due[(random.random(len(due)) > SKIPPED_SHARE) & (due > 1) & (due < days - 2)]
    due = np.unique(np.where(due % 7 > 4, due - due % 7 + 7, due))
    due = due[due < days - 2]
    names, shares = zip(*KINDS, strict=True)
    kinds = random.choice(names, len(due), p=shares)
    hours = random.uniform(8, 15, len(due))
    return [(int((d + h / 24) * STEPS_A_DAY), str(k)) for d, h, k in zip(due, hours, kinds, strict=True)]


def _healthy(
    random: np.random.Generator, role: Role, plan: Plan, count: int, interval: float
) -> tuple[Floats, list[float]]:
    """Error of a healthy instrument, and what each service left of it [working scale]."""
    usual = role.leans if role.leans and random.random() < 0.8 else random.choice([-1.0, 1.0])
    share, left = np.zeros(count), []
    fouled, aged = 0.0, 0.1 * random.standard_normal()
    edges = [0, *(row for row, _ in plan), count]
    for number, (begin, end) in enumerate(pairwise(edges)):
        kind = plan[number - 1][1] if number else ""
        fouled = 0.1 * fouled if kind in ("cleaning", "calibration") else fouled
        aged = 0.06 * random.standard_normal() if kind == "calibration" else aged
        left += [(fouled + aged) * role.measure.tolerance] if number else []
        since = np.arange(end - begin) / (interval * STEPS_A_DAY)
        way = usual * role.pace * random.lognormal(-0.1, 0.5)
        growing = way * FOULING_SHARE * since ** random.uniform(0.8, 1.5)
        ageing = way * (1 - FOULING_SHARE) * since
        share[begin:end] = fouled + aged + growing + ageing
        if end > begin:
            fouled, aged = fouled + float(growing[-1]), aged + float(ageing[-1])
    share += 0.06 * memory(random, count, 15.0)
    return share * role.measure.tolerance, left


def _scatter(random: np.random.Generator, role: Role, count: int) -> Floats:
    """Return the instrument's own scatter, of unit measure: heavy tails (t) or normal."""
    if role.is_heavy:
        return random.standard_t(HEAVY_DF, count) * role.measure.fast_sd / np.sqrt(HEAVY_DF / (HEAVY_DF - 2))
    return role.measure.fast_sd * random.standard_normal(count)


def _shown(
    random: np.random.Generator, tag: _Tag, course: Floats, happened: Course, other: Floats | None
) -> Floats:
    """Return what the recorder would keep at the tag's own pace if nothing were lost [unit]."""
    m, count, pace = tag.role.measure, len(course), tag.pace
    working = np.interp(np.arange(count * pace) / pace, np.arange(count), course) + np.repeat(tag.slow, pace)
    shown = shown_as(m, working + _scatter(random, tag.role, count * pace))
    shown = _in_standards(random, tag, shown)
    if tag.role.hold_s and tag.step_s < tag.role.hold_s:
        row, held = np.arange(len(shown)), round(tag.role.hold_s / tag.step_s)
        shown = shown[row - row % held]
    for fault in tag.faults:
        if fault.kind in RECORD_KINDS:
            beside = np.repeat(shown_as(m, course + 0.1) if other is None else other, pace)
            shown = broken(random, fault, m, working_of(m, shown), beside, tag.step_s)
    leaves = any(fault.kind == "out_of_range" for fault in tag.faults)
    display = tag.role.display if happened.is_coarse and not _is_exact(tag.order) else 1
    return _recorded(m, shown, np.repeat(happened.running, pace), display, leaves)


def _is_exact(order: Order) -> bool:
    """Whether two records are held against each other here, so that both show the same decimals."""
    return order.reference == "twin" or order.kind in ("twin", "copied") or order.group == "beside"


def _recorded(measure: Measure, shown: Floats, running: Floats, display: int, may_leave_span: bool) -> Floats:
    """Return what is kept: rounded as displayed, within the span, no flow while the plant stands still."""
    if not may_leave_span:
        shown = np.clip(shown, measure.low, measure.high)
    if measure.name == "flow":
        shown = np.where(running | np.isnan(shown), shown, 0.0)
    step = measure.resolution * display
    least = 0.0 if not measure.is_log or measure.name == "flow" else step
    shown = (
        np.maximum(np.round(shown / step) * step, least) if measure.is_log else np.round(shown / step) * step
    )
    return np.round(shown, max(0, round(-np.log10(measure.resolution))))


def _in_standards(random: np.random.Generator, tag: _Tag, shown: Floats) -> Floats:
    """Put services into the trend: held, or a quarter to three quarters of an hour of the standard."""
    shown = shown.copy()
    for row, _ in tag.plan if tag.role.standard is not None else ():
        part = slice((row - int(random.integers(1, 4))) * tag.pace, row * tag.pace)
        held = random.random() < 0.5
        value = shown[part.start] if held else max(tag.role.standard or 0.0, 1e-3)
        shown[part] = value
    return shown


def _sensor(
    random: np.random.Generator,
    tag: _Tag,
    name: str,
    course: Floats,
    full: Floats,
    happened: Course,
    lost: Floats,
) -> Sensor:
    order, m = tag.order, tag.role.measure
    error = truth(m, full[:: tag.pace], course, happened.running)
    gone = np.repeat(lost, tag.pace) | (random.random(len(full)) < LOST_SHARE)
    kept = np.where(gone, np.nan, full)
    shown, between = at_pace(kept, tag.pace, tag.step_s)
    return Sensor(
        order, name, m, shown, error, _grabs(random, tag, course, happened), _logbook(random, tag),
        _interval(order, tag.role), tag.faults, _twin(random, tag, course, happened), tag.step_s, between,
    )  # fmt: skip


def _logbook(random: np.random.Generator, tag: _Tag) -> list[tuple[int, str, float, float]]:
    """Lines of the logbook: the hour about right, some services never written down."""
    lines = written(random, tag.order.reference, tag.role.measure, tag.plan, tag.slow, tag.left)
    told = random.random(len(lines)) > UNWRITTEN_SHARE
    late = random.integers(-2, 6, len(lines))
    if not tag.order.is_serviced:
        return lines
    return [(line[0] + int(by), *line[1:]) for line, by, keep in zip(lines, late, told, strict=True) if keep]


def _grabs(
    random: np.random.Generator, tag: _Tag, course: Floats, happened: Course
) -> list[tuple[int, int, float]]:
    """Bench results as written down, ``row, minutes off, value``."""
    if tag.order.reference not in ("weekly", "daily"):
        return []
    m, days = tag.role.measure, np.arange(len(course) // STEPS_A_DAY - 1)
    days = days[days % 7 == random.integers(0, 5)] if tag.order.reference == "weekly" else days[days % 7 < 5]
    days = days[~happened.no_grabs[days] & (random.random(len(days)) > MISSED_SHARE)]
    hours = np.full(len(days), 8.0) if happened.is_eight else random.uniform(7.5, 15, len(days))
    told = happened.midnight[days] + (hours * 4).astype(int)
    taken = told + (random.integers(-1, 4, len(days)) if happened.is_eight else 0)
    off = np.zeros(len(days)) if happened.is_eight else random.integers(-10, 11, len(days))
    kit = _other_kit(random, m, days)
    values = shown_as(m, course[taken] + m.lab_sd * random.standard_t(5, len(days)) / np.sqrt(5 / 3) + kit)
    values = np.where(random.random(len(days)) < TYPO_SHARE, values * random.choice([0.1, 10, 1.1]), values)
    return [
        (int(row), int(minute), rounded(tag.role, float(value)))
        for row, minute, value, at in zip(told, off, values, taken, strict=True)
        if happened.running[at] and happened.running[row] and value > 0
    ]


def _other_kit(random: np.random.Generator, measure: Measure, days: Floats) -> Floats:
    """Return what another kit adds for some months, at some benches."""
    begin, size = random.uniform(0, 600), random.uniform(*KIT_TOLERANCES) * random.choice([-1.0, 1.0])
    there = (days >= begin) & (days < begin + random.uniform(40, 120))
    return there * size * measure.tolerance * float(random.random() < KIT_SHARE)


def _twin(random: np.random.Generator, tag: _Tag, course: Floats, happened: Course) -> Floats | None:
    """Return what a near-duplicate shows, a little apart and serviced by its own plan; None if none."""
    m = tag.role.measure
    ordered = [replace(fault, kind="drift") for fault in tag.faults if fault.kind == "twin"]
    if tag.order.reference != "twin" and not ordered:
        return None
    count = len(course)
    plan = _plan(random, replace(tag.order, is_serviced=True), tag.role, count, 0)
    error, _ = _healthy(random, tag.role, plan, count, m.service_days)
    apart = m.tolerance * (random.uniform(-0.2, 0.2) + 0.1 * memory(random, count, 5.0))
    working = course + error + apart + _scatter(random, tag.role, count)
    for fault in ordered:
        working = working + accrued(fault, m, np.arange(count, dtype=float), np.full(count, -np.inf))
    return _recorded(m, shown_as(m, working), happened.running, 1, False)
