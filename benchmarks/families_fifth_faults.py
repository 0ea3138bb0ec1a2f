"""Fifth family, faults: what goes wrong with a serviced instrument, when, in which shape, until when.

Grid orders (groups other than the mix) keep the straight shapes and times of the other families, so that
rates and onsets can be scored. In the mix a fault has the shape of its cause, and most are put right again:
the instrument is replaced on the last day. Common practice, no source.
"""

import numpy as np

from benchmarks import families_third_errors as third
from benchmarks.families import STEPS_A_DAY, Bools, Floats, Measure
from benchmarks.families_fifth import Place
from benchmarks.families_fifth_climate import Drivers
from benchmarks.families_fifth_errors import Plan, growth
from benchmarks.families_sensors import Order
from benchmarks.faults import ERROR_KINDS, Fault, accrued

HOURS_LONG = ("stuck", "gap", "out_of_range")
STRIKES_MEAN, STRIKES_WITHIN_DAYS = 1.0, 25.0
LASTS_DAYS = {"drift": 110.0, "fouling": 110.0, "step": 45.0}
USUAL_LAST_DAYS = 40.0
ISO = {"ph": 7.0}
FEWEST_TOLERANCES = 4.0
"""From the point of no error: less far off, a loss of slope never reaches the tolerance."""

ABSURD = 5.0
"""Tolerances: of a drift or of dirt, so much is seen by everybody."""

REAGENTS = ("chlorine", "ammonia")
SETTLED_ROWS = 4
WEEKEND_HOURS = (60.0, 66.0)
RUNS_DRY_HOURS = 3.0


def faults(
    random: np.random.Generator, order: Order, place: Place, running: Bools, history: int
) -> tuple[tuple[Fault, ...], str]:
    """Return the faults of a serviced sensor of the mix and their shape, whoever will see to it."""
    if not order.kind:
        return (), ""
    shape = _shape(random, order.kind, place)
    first = (history + random.uniform(6, 150)) * STEPS_A_DAY
    if shape == "reagent":
        return _weekends(random, order, first, len(running)), shape
    if order.kind in HOURS_LONG:
        strikes = 1 + random.poisson(STRIKES_MEAN)
        later = np.sort(random.uniform(0, STRIKES_WITHIN_DAYS, strikes - 1)) * STEPS_A_DAY
        begins = [_running_row(int(first + off), running) for off in (0.0, *later)]
        return _apart(order, begins, len(running)), shape
    begin = _running_row(int(first), running)
    end = min(len(running), begin + int(_lasts(random, order, place.measure) * STEPS_A_DAY))
    end += 40 - (end % STEPS_A_DAY)  # ten in the morning, about
    end = len(running) if end > len(running) - 3 * STEPS_A_DAY else max(end, begin + STEPS_A_DAY)
    return (Fault(order.kind, begin, min(end, len(running)), order.size),), shape


def ordered(
    random: np.random.Generator, order: Order, plan: Plan, running: Bools, history: int
) -> tuple[Fault, ...]:
    """Return the faults of a grid order, when those of the other families come, in short cycles as well."""
    if not order.kind:
        return ()
    count = len(running)
    rows = int(order.size * STEPS_A_DAY / 24) if order.kind in HOURS_LONG else count
    days = history + random.uniform(14, 130 if order.is_serviced else 56, 1)
    if order.times > 1:
        days = history + np.arange(order.times) * 24 + random.uniform(4, 12, order.times)
    begins = [_running_row(int(day * STEPS_A_DAY), running) for day in days]
    if order.kind == "step":
        later = [row for row, kind in plan if row >= begins[0] and kind == "calibration"]
        begins = [later[0] if later else begins[0]]
    return tuple(Fault(order.kind, begin, min(begin + rows, count), order.size) for begin in begins)


def _shape(random: np.random.Generator, kind: str, place: Place) -> str:
    """Draw the cause, among those that a place knows."""
    m = place.measure
    far = abs(m.level - ISO.get(m.name, 0.0)) >= FEWEST_TOLERANCES * m.tolerance
    causes = {
        "drift": ("straight", "slope" if far and not m.is_log else "straight", "scaling"),
        "fouling": ("biofilm",),
        "step": ("torn", "bench", "reagent" if m.name in REAGENTS else "torn"),
        "noisier": ("wet cable", "always"),
        "damped": ("dry well" if m.name == "temperature" else "plugged",),
    }
    return str(random.choice(causes.get(kind, ("",))))


def _lasts(random: np.random.Generator, order: Order, measure: Measure) -> float:
    """Days until it is put right: somebody does so long before the error is absurd."""
    days = float(LASTS_DAYS.get(order.kind, USUAL_LAST_DAYS) * random.lognormal(0.0, 0.6))
    if order.kind not in ("drift", "fouling"):
        return days
    weeks = measure.tolerance / (order.size * measure.slow_rate)
    most = np.sqrt(8.0 * ABSURD * weeks) if order.kind == "fouling" else ABSURD * weeks
    return min(days, 7.0 * float(most))


def _weekends(random: np.random.Generator, order: Order, first: float, count: int) -> tuple[Fault, ...]:
    """Reagent that runs out on Friday and is filled up on Monday; one weekend or two in a row."""
    friday = int(first // STEPS_A_DAY // 7) * 7 + 4
    made = []
    for week in range(int(random.integers(1, 3))):
        begin = (friday + 7 * week) * STEPS_A_DAY + int(random.uniform(16, 24) * 4)
        end = min(count, begin + int(random.uniform(*WEEKEND_HOURS) * 4))
        made.append(Fault(order.kind, begin, end, order.size))
    return tuple(made)


def _apart(order: Order, begins: list[int], count: int) -> tuple[Fault, ...]:
    """Strikes of so many hours each, the later of two that would touch left out."""
    made: list[Fault] = []
    for begin in sorted(begins):
        if not made or begin > made[-1].end + STEPS_A_DAY:
            made.append(Fault(order.kind, begin, min(begin + int(order.size * 4), count), order.size))
    return tuple(made)


def _running_row(row: int, running: Bools) -> int:
    """First row from `row` on at which the plant has been running for an hour."""
    while row < len(running) - 1 and not running[row - SETTLED_ROWS : row + 1].all():
        row += 1
    return row


def swap_row(
    random: np.random.Generator, order: Order, made: tuple[Fault, ...], count: int, share: float
) -> int:
    """Row at which an instrument is replaced: where a fault ends, or once in a `share` of sound ones; 0."""
    if made and order.kind not in HOURS_LONG and len(made) == 1:
        return made[0].end if made[0].end < count else 0
    is_swapped = not made and random.random() < share
    return int((random.integers(100, count // STEPS_A_DAY - 20) + 0.42) * STEPS_A_DAY) if is_swapped else 0


def at_service(made: tuple[Fault, ...], shape: str, plan: Plan) -> tuple[Fault, ...]:
    """Move the step of a bad calibration to the next calibration, if there is one before it is put right."""
    if shape != "bench" or not made:
        return made
    one = made[0]
    later = [row for row, kind in plan if one.begin <= row < one.end and kind == "calibration"]
    return (Fault(one.kind, later[0] if later else one.begin, one.end, one.size),)


def wear(
    random: np.random.Generator,
    made: tuple[Fault, ...],
    shape: str,
    place: Place,
    plan: Plan,
    course: Floats,
    happened: Drivers,
) -> Floats:
    """Return the error that faults have put on by each row [working scale]."""
    m, count = place.measure, len(course)
    total = np.zeros(count)
    acts = [one for one in plan if one[1] != "check"]
    for fault in made:
        if fault.kind not in ERROR_KINDS:
            continue
        since = third.clean_since(acts, fault, count)
        if shape == "reagent":
            total += _run_dry(fault, m, course)
        elif shape == "slope":
            iso = ISO.get(m.name, 0.0)
            total -= _grown(fault, m, shape, since, happened) * (course - iso) / abs(m.level - iso)
        else:
            total += random.choice([-1.0, 1.0]) * _grown(fault, m, shape, since, happened)
    return total


def _grown(fault: Fault, measure: Measure, shape: str, since: Floats, happened: Drivers) -> Floats:
    """Size of the error by each row [working scale]."""
    count = len(since)
    row = np.arange(count, dtype=np.float64)
    if shape == "torn":
        # No calibration mends it, only the replacement.
        return accrued(fault, measure, row, np.full(count, -np.inf))
    if shape not in ("biofilm", "scaling"):
        return accrued(fault, measure, row, since)
    begin = np.clip(np.maximum(since, fault.begin), 0, count - 1).astype(int)
    active = (row >= fault.begin) & (row < fault.end)
    rate = fault.size * measure.slow_rate
    if shape == "scaling":
        weeks = np.clip(row - begin, 0.0, None) / (7.0 * STEPS_A_DAY)
        return np.where(active, np.sqrt(rate * weeks * measure.tolerance), 0.0)
    eaten = np.cumsum(growth(happened.by["warm"])) / (7.0 * STEPS_A_DAY)
    return np.where(active, rate * np.clip(eaten - eaten[begin], 0.0, None) ** 2 / 8.0, 0.0)


def _run_dry(fault: Fault, measure: Measure, course: Floats) -> Floats:
    """Return a reading that sinks to nothing within hours and is back at once when filled up."""
    row = np.arange(len(course), dtype=np.float64)
    active = (row >= fault.begin) & (row < fault.end)
    sunk = 1.0 - np.exp(-np.clip(row - fault.begin, 0.0, None) / (4.0 * RUNS_DRY_HOURS))
    return np.where(active, -np.clip(course - measure.low, 0.0, None) * 0.98 * sunk, 0.0)
