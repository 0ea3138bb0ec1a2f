"""Fifth family, errors: how people treat an instrument, and what a healthy one is off by.

Some service by the calendar, some only when they see that something is off, some hardly ever. A calibration
leaves the error of the standard, or, where the reading is set to a bench result, that of the bench. A few
turn the wrong way. What grows on an instrument grows with the warmth of the water. No healthy error passes
`LARGEST_SHARE` of the tolerance. Common practice, no source.
"""

from dataclasses import dataclass

import numpy as np

from benchmarks import families_third_errors as third
from benchmarks.families import STEPS_A_DAY, Floats
from benchmarks.families_fifth import Place
from benchmarks.families_sensors import Order

HABITS = (("calendar", 0.5), ("seeing", 0.35), ("seldom", 0.15))
KINDS = (("calibration", 0.65), ("cleaning", 0.28), ("check", 0.07))
BENCH_SHARE, WRONG_WAY_SHARE = 0.35, 0.03
FOULING_SHARE = 0.6
SEEN_SHARE, LOOK_SD = 0.55, 0.2
LARGEST_SHARE = 0.88
CABINET_SD, WANDER_SD, WANDER_DAYS = 0.08, 0.05, 10.0
LONGEST_DAYS = 400.0

Plan = list[tuple[int, str]]


@dataclass(frozen=True)
class Life:
    """What was done to an instrument and how it was off, healthy as it is.

    Parameters
    ----------
    plan : list of (row, kind)
    slow : (n,) array [working scale]
    left : list of float [working scale]
        Error after each service.
    """

    plan: Plan
    slow: Floats
    left: list[float]


def interval_days(order: Order, place: Place) -> float:
    """Return the days from service to service that instruments.csv names."""
    if not order.is_serviced:
        return third.interval_days(order)
    return 30.0 if order.reference == "steps" else place.measure.service_days


def growth(warm: Floats) -> Floats:
    """How fast things grow, by the water's warmth (-1 to 1): about 1 on the mean of the year."""
    return np.asarray(np.exp(np.clip(1.1 * warm, -2.0, 2.0)) / 1.3)


def life(
    random: np.random.Generator,
    order: Order,
    place: Place,
    air: Floats,
    warm: Floats,
    swap: int,
    history: int,
) -> Life:
    """Live through the record: drift, get seen to, be swapped at row `swap` (0: never).

    Parameters
    ----------
    random : Generator
    order, place
    air, warm : (n,) arrays
        Warmth of the air and of the water.
    swap, history : int
        Row of a replacement; days before the scored half year.
    """
    count, interval = len(warm), interval_days(order, place)
    habit = str(random.choice([h for h, _ in HABITS], p=[s for _, s in HABITS]))
    if order.reference == "steps":
        habit = "calendar"
    given = [] if order.is_serviced else third.services(random, order, count, history)
    usual = place.leans if place.leans and random.random() < 0.8 else random.choice([-1.0, 1.0])
    grown = np.cumsum(growth(warm)) / (interval * STEPS_A_DAY)
    share, plan, left = np.zeros(count), list[tuple[int, str]](), list[float]()
    begin, fouled, aged = 0, 0.0, 0.08 * random.standard_normal()
    while True:
        way = usual * place.pace * random.lognormal(-0.4, 0.5)
        more = way * FOULING_SHARE * (grown[begin:] - grown[begin]) ** random.uniform(0.8, 1.6)
        older = way * (1 - FOULING_SHARE) * np.arange(count - begin) / (interval * STEPS_A_DAY)
        off = fouled + more + aged + older
        end, kind = _next(random, habit, interval, begin, off, given)
        if begin < swap <= end:
            end, kind = swap, "replacement"
        if end >= count - 2 * STEPS_A_DAY:
            share[begin:] = off
            break
        share[begin:end] = off[: end - begin]
        fouled, aged = _after(random, place, kind, fouled + more[end - begin], aged + older[end - begin])
        plan.append((end, kind))
        left.append(fouled + aged)
        begin = end
    cabinet = CABINET_SD * random.standard_normal() * (air - air.mean())
    rest = cabinet + WANDER_SD * _wander(random, count)
    tolerance = place.measure.tolerance
    at = np.array([row for row, _ in plan], dtype=int)
    after = _squashed(np.array(left) + rest[at]) if plan else np.zeros(0)
    return Life(plan, _squashed(share + rest) * tolerance, (after * tolerance).tolist())


def _wander(random: np.random.Generator, count: int) -> Floats:
    """Slow unit noise, a value every six hours and straight between."""
    knots = count // 24 + 2
    keep = np.exp(-0.25 / WANDER_DAYS)
    walk = np.zeros(knots)
    for at, shock in enumerate(random.standard_normal(knots - 1) * np.sqrt(1 - keep**2), start=1):
        walk[at] = keep * walk[at - 1] + shock
    return np.interp(np.arange(count), np.arange(knots) * 24.0, walk)


def _squashed(share: Floats) -> Floats:
    return np.asarray(LARGEST_SHARE * np.tanh(share / LARGEST_SHARE))


def _next(
    random: np.random.Generator, habit: str, interval: float, begin: int, off: Floats, given: Plan
) -> tuple[int, str]:
    """Row and kind of the next service; a row past the record where there is none."""
    count = begin + len(off)
    if given:
        later = [one for one in given if one[0] > begin]
        return later[0] if later else (count, "")
    days = interval * random.uniform(0.8, 1.4) * (2.0 if habit == "seldom" else 1.0)
    if habit == "seeing":
        looks = np.arange(7 * STEPS_A_DAY, len(off), 7 * STEPS_A_DAY)
        seen = np.abs(off[looks] + LOOK_SD * random.standard_normal(len(looks))) > SEEN_SHARE
        days = min(float(looks[np.argmax(seen)]) / STEPS_A_DAY if seen.any() else LONGEST_DAYS, LONGEST_DAYS)
    kind = str(random.choice([k for k, _ in KINDS], p=[s for _, s in KINDS]))
    day = begin // STEPS_A_DAY + max(2, round(days))
    day += 7 - day % 7 if day % 7 > 4 else 0
    return int((day + random.uniform(8, 15) / 24) * STEPS_A_DAY), kind


def _after(
    random: np.random.Generator, place: Place, kind: str, fouled: float, aged: float
) -> tuple[float, float]:
    """Return what grew and what aged, after a service [tolerances]."""
    if kind == "check":
        return fouled, aged
    if kind == "cleaning":
        return 0.15 * fouled, aged
    if kind == "calibration" and random.random() < WRONG_WAY_SHARE:
        return fouled, float(np.clip(2 * aged + fouled, -0.7, 0.7))
    bench = random.random() < BENCH_SHARE and place.bench > 0
    sd = 0.5 * place.measure.lab_sd / place.measure.tolerance if bench else 0.05
    return 0.0, float(np.clip(sd * random.standard_normal(), -0.4, 0.4))
