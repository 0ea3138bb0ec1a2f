"""Third family, errors: services of instruments, what a healthy one is off by, and when a fault begins.

Healthy means: serviced each quarter (each month where the steps are written down), in between a slow drift of
3 to 25 % of the tolerance a quarter and a wander like a random walk within 15 % of it. One service in ten
is left out, one in five only cleans and takes half of the error away. No healthy error passes 85 % of the
tolerance. Common practice, no source.
"""

from itertools import pairwise

import numpy as np

from benchmarks.families import STEPS_A_DAY, Bools, Floats, Measure
from benchmarks.families_sensors import LONG_SERVICE_DAYS, Order
from benchmarks.faults import Fault

QUARTER_DAYS, MONTH_DAYS = 91.0, 30.0
SKIPPED_SHARE, CLEANING_SHARE = 0.1, 0.2
WORKDAYS = 5
DRIFT_SHARES = (0.03, 0.25)
WANDER_SHARE, WANDER_A_DAY = 0.15, 0.02
LARGEST_SHARE = 0.85
HOURS_LONG = ("stuck", "gap", "out_of_range")
SETTLED_HOURS = 3

Plan = list[tuple[int, str]]
"""Rows and kinds of the services; those that take the error away are calibrations."""


def interval_days(order: Order) -> float:
    """Return the days from service to service that instruments.csv names."""
    if not order.is_serviced:
        return LONG_SERVICE_DAYS
    return MONTH_DAYS if order.reference == "steps" else QUARTER_DAYS


def services(random: np.random.Generator, order: Order, count: int, history_days: int) -> Plan:
    """Return what is done to an instrument: on working days, in the daytime, about when it is due."""
    interval, days = interval_days(order), count / STEPS_A_DAY
    if order.is_serviced:
        due = random.uniform(0, interval) + np.arange(0, days, interval)
        due = due[random.random(len(due)) > SKIPPED_SHARE] + random.normal(0, 0.05 * interval)
    else:
        due = np.arange(history_days + random.uniform(0, 10), 0, -interval)[::-1]
    due = np.floor(due)
    due = np.unique(np.where(due % 7 >= WORKDAYS, due - due % 7 + 7, due))
    due = due[(due > 1) & (due < days - 2)]
    kinds = np.where(random.random(len(due)) < CLEANING_SHARE, "cleaning", "calibration")
    if not order.is_serviced and len(kinds):
        kinds[-1] = "calibration"
    hours = random.uniform(8, 15, len(due))
    return [
        (int((day + hour / 24) * STEPS_A_DAY), str(kind))
        for day, hour, kind in zip(due, hours, kinds, strict=True)
    ]


def healthy(
    random: np.random.Generator, measure: Measure, plan: Plan, count: int
) -> tuple[Floats, list[float]]:
    """Error of a healthy instrument, and what each service left of it [working scale].

    The wander is a random walk folded back at its bounds; squashing (tanh) keeps the sum within
    `LARGEST_SHARE` of the tolerance.
    """
    share, pace = np.zeros(count), random.uniform(*DRIFT_SHARES) * random.choice([-1.0, 1.0])
    now, left = 0.0, []
    edges = [0, *(row for row, _ in plan), count]
    for number, (begin, end) in enumerate(pairwise(edges)):
        if number:
            is_reset = plan[number - 1][1] == "calibration"
            now = 0.05 * random.standard_normal() if is_reset else 0.5 * now
            left.append(float(_squashed(now)) * measure.tolerance)
        quarters = np.arange(end - begin) / (QUARTER_DAYS * STEPS_A_DAY)
        # Membranes and reference cells age fast at first or at last: neither course is a straight line.
        course = pace * random.uniform(0.7, 1.3) * quarters ** random.uniform(0.6, 1.6)
        share[begin:end] = now + course + _folded(random, end - begin)
        now = float(share[end - 1]) if end > begin else now
    return _squashed(share) * measure.tolerance, left


def _folded(random: np.random.Generator, count: int) -> Floats:
    """Random walk from 0, folded back at plus and minus `WANDER_SHARE`."""
    walk = np.cumsum(WANDER_A_DAY / np.sqrt(STEPS_A_DAY) * random.standard_normal(count))
    way = (walk + WANDER_SHARE) % (4 * WANDER_SHARE)
    return np.asarray(WANDER_SHARE - np.abs(way - 2 * WANDER_SHARE))


def _squashed(share: Floats | float) -> Floats:
    return np.asarray(LARGEST_SHARE * np.tanh(np.asarray(share) / LARGEST_SHARE))


def faults(
    random: np.random.Generator, order: Order, plan: Plan, running: Bools, history_days: int
) -> tuple[Fault, ...]:
    """Return the faults an order asks for, in the scored half year and while the plant runs."""
    if not order.kind:
        return ()
    count, first = len(running), history_days
    rows = int(order.size * STEPS_A_DAY / 24) if order.kind in HOURS_LONG else count
    if order.times > 1:
        days = first + np.arange(order.times) * 24 + random.uniform(4, 12, order.times)
        begins = [_while_running(int(day * STEPS_A_DAY), running) for day in days]
    else:
        day = first + random.uniform(14, 130 if order.is_serviced else 56)
        begins = [_while_running(int(day * STEPS_A_DAY), running)]
    if order.kind == "step":
        later = [row for row, kind in plan if row >= begins[0] and kind == "calibration"]
        begins = [later[0] if later else begins[0]]
    return tuple(Fault(order.kind, begin, min(begin + rows, count), order.size) for begin in begins)


def _while_running(row: int, running: Bools) -> int:
    """First row from `row` on at which the plant has been running for `SETTLED_HOURS`."""
    rows = SETTLED_HOURS * STEPS_A_DAY // 24
    while row < len(running) - 1 and not running[row - rows : row + 1].all():
        row += 1
    return row


def clean_since(plan: Plan, fault: Fault, count: int) -> Floats:
    """Row of the last service that took the error away, at each row; fouling goes with every cleaning."""
    since = np.full(count, -np.inf)
    for row, kind in plan:
        if kind == "calibration" or fault.kind == "fouling":
            since[row:] = row
    return since
