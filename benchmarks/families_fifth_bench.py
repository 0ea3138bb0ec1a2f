"""Fifth family, bench: grab samples and the logbook as small plants write them.

Rounds are made in the morning and only while the plant has been running for a while. Reagent lots differ;
values are rounded, mistyped, entered twice, or under the day on which somebody found the slip of paper; for
weeks after the clocks change some benches keep the old hour. Common practice, no source.
"""

import numpy as np

from benchmarks import families_records as records
from benchmarks.families import STEPS_A_DAY, Clock, Floats, Ints, shown_as
from benchmarks.families_fifth import Place
from benchmarks.families_fifth_climate import Drivers
from benchmarks.families_fifth_errors import Life
from benchmarks.families_fifth_running import settled
from benchmarks.families_sensors import Order

LOT_DAYS, LOT_SDS = 75.0, 0.5
MISSED_SHARE, TYPO_SHARE, TWICE_SHARE, WRONG_DAY_SHARE = 0.06, 0.006, 0.01, 0.01
OLD_HOUR_SHARE, OLD_HOUR_DAYS = 0.4, (4.0, 40.0)
SETTLED_ROWS, WAIT_ROWS = 5, 24
UNWRITTEN_SHARE, NEXT_DAY_SHARE = 0.12, 0.15
AWAY = 2.5  # a year

Grabs = list[tuple[int, int, float]]


def grabs(
    random: np.random.Generator, order: Order, place: Place, course: Floats, clock: Clock, happened: Drivers
) -> Grabs:
    """Bench results as written down, ``row, minutes off, value``, in the order of their times."""
    if order.reference not in ("weekly", "daily"):
        return []
    m = place.measure
    taken = _rounds(random, order, clock, happened)
    noise = m.lab_sd * random.standard_normal(len(taken)) * (1 + (random.random(len(taken)) < 0.08))
    values = shown_as(m, course[taken] + noise + m.lab_sd * _lots(random, taken))
    told = _dated(random, taken, clock)
    off = random.integers(-12, 13, len(taken))
    lines: Grabs = []
    for row, minutes, value in zip(told.tolist(), off.tolist(), values.tolist(), strict=True):
        if value <= 0 or not SETTLED_ROWS < row < len(course) - 4:
            continue
        number = written(random, place, value)
        lines.append((row, minutes, number))
        if random.random() < TWICE_SHARE:
            lines.append((row, minutes + int(random.integers(0, 3)), number))
    return sorted(lines)


def _rounds(random: np.random.Generator, order: Order, clock: Clock, happened: Drivers) -> Ints:
    """Rows at which samples are taken."""
    days = np.arange(1, len(clock.day) // STEPS_A_DAY - 1)
    usual = int(random.integers(0, 5))
    if order.reference == "weekly":
        moved = random.choice([0, 0, 0, 0, 1, -1], len(days))
        days = np.unique((days + moved)[days % 7 == usual])
    else:
        days = days[days % 7 < random.choice([5, 7])]
    for begin in random.uniform(0, len(clock.day) / STEPS_A_DAY, random.poisson(AWAY * len(days) / 365)):
        days = days[(days < begin) | (days > begin + random.uniform(4, 18))]
    days = days[(random.random(len(days)) > MISSED_SHARE) & (days > 0)]
    hours = random.uniform(6.5, 11.0) + random.normal(0, 0.8, len(days))
    wanted = (days * STEPS_A_DAY + hours * 4).astype(int)
    ready = np.flatnonzero(settled(happened.running, SETTLED_ROWS))
    at = ready[np.minimum(np.searchsorted(ready, wanted), len(ready) - 1)]
    return np.asarray(np.unique(at[(at >= wanted) & (at - wanted <= WAIT_ROWS)]), np.int64)


def _lots(random: np.random.Generator, taken: Ints) -> Floats:
    """Return what each lot of reagents or buffers adds [scatters of the bench]."""
    ends = np.cumsum(LOT_DAYS * random.lognormal(0.0, 0.3, 40)) * STEPS_A_DAY
    return np.asarray(LOT_SDS * random.standard_normal(41)[np.searchsorted(ends, taken)])


def _dated(random: np.random.Generator, taken: Ints, clock: Clock) -> Ints:
    """Rows under which samples are written down."""
    told = taken.copy()
    late = random.random(len(taken)) < WRONG_DAY_SHARE
    told = told + late * random.integers(1, 4, len(taken)) * STEPS_A_DAY
    # The wall clock's hour of the record's own midnight jumps where clocks change.
    midnight = clock.hour[::STEPS_A_DAY]
    for day in np.flatnonzero(np.diff(midnight) != 0) + 1:
        if random.random() < OLD_HOUR_SHARE:
            until = day + random.uniform(*OLD_HOUR_DAYS)
            forward = (midnight[day] - midnight[day - 1]) % 24.0 < 12.0
            here = (taken >= day * STEPS_A_DAY) & (taken < until * STEPS_A_DAY)
            told = told + here * (-4 if forward else 4)
    return np.asarray(told, np.int64)


def written(random: np.random.Generator, place: Place, value: float) -> float:
    """Return a result as it is written down [unit]: rounded, now and then mistyped."""
    if place.bench:
        number = round(round(value / place.bench) * place.bench, 6)
    else:
        number = round(value, 1 - int(np.floor(np.log10(max(value, 1e-9)))))
    if random.random() < TYPO_SHARE:
        return slipped(random, number) or number
    return number


def slipped(random: np.random.Generator, number: float) -> float:
    """Return a number with a slip: two figures changed about, or the point in the wrong place."""
    text = f"{number:g}"
    whole, _, part = text.partition(".")
    if random.random() < 0.5 and len(whole) == 1 and part and "e" not in text:
        return float(f"{part[0]}.{whole}{part[1:]}")
    return round(number * float(random.choice([0.1, 10.0])), 6)


def logbook(
    random: np.random.Generator, order: Order, place: Place, lived: Life, slow: Floats, wrong: set[int]
) -> list[tuple[int, str, float, float]]:
    """Lines of the logbook: some never written, some under the next day.

    `wrong` are rows of calibrations to a bad standard: what was left shows nothing of the error.
    """
    left = [
        sound if row in wrong else float(slow[row])
        for (row, _), sound in zip(lived.plan, lived.left, strict=True)
    ]
    lines = records.written(random, order.reference, place.measure, lived.plan, slow, left)
    if not order.is_serviced:
        return lines
    told = []
    for row, *rest in lines:
        if random.random() < UNWRITTEN_SHARE:
            continue
        later = STEPS_A_DAY - 4 if random.random() < NEXT_DAY_SHARE else int(random.integers(-2, 7))
        told.append((min(row + later, len(slow) - 1), *rest))
    return told
