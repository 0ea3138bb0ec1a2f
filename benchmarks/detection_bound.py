"""Bound: how many errors could be named in time at all, by somebody who knows how the family is made.

``python -m benchmarks.detection_bound`` (ten minutes on two cores) takes sensors of plants as they are that
have one grab a week. For each it draws thousands of courses that its error may have taken, by the very laws
of the family and the services as they were, and weighs them on every Monday by how well they fit the grabs so
far (Bayes' rule by importance sampling). An entry is made once the courses of which it would be right weigh
enough. Whoever draws is also told how the instrument tends to drift and how far off it was at the beginning.
No check can know as much, so none can be asked for more than this reaches. The shipped checks judge the same
sensors beside it.
"""

import os

os.environ.setdefault("POLARS_MAX_THREADS", "1")

from collections.abc import Sequence
from dataclasses import replace
from itertools import chain, pairwise
from multiprocessing import get_context

import numpy as np

from benchmarks.detection_plan import FAULTY_SHARE, MIX_KINDS, SEEDS, WEEKS_TO_TOLERANCE, mix
from benchmarks.detection_work import record
from benchmarks.families import FAMILIES, STEPS_A_DAY, Bools, Floats, working_of
from benchmarks.families_sensors import HISTORY_DAYS, NATURAL_SHARE, SCORED_DAYS, Sensor
from benchmarks.families_train import train
from benchmarks.faults import ERROR_KINDS, SIZES
from benchmarks.results import Figure, today
from benchmarks.results import record as publish
from benchmarks.scoring import ERROR_FINDINGS, SEED_SHARE, Record, Said, is_in_time, is_true, passings
from benchmarks.scoring_rates import Share, share

COMMAND = "python -m benchmarks.detection_bound"
FAMILY, REFERENCE = "B", "weekly"
TRAINS, COURSES, PROCESSES = 240, 30_000, 2
ASKED = 0.90
BARS = (0.3, 0.4, 0.5, 0.6, 0.7, 0.75, 0.8, 0.85, 0.9, 0.93, 0.95, 0.97, 0.98, 0.99)
GIVEN_UP = 0.3
DRAWN = {"": 0.2, "drift": 0.4, "fouling": 0.25, "step": 0.15}
"""How often each error is drawn: the rare ones more often than they are, and weighed less."""

Plan = list[tuple[int, str]]
"""Days and kinds of the services in the scored half year."""


def natural(random: np.random.Generator, sensor: Sensor, plan: Plan) -> Floats:
    """Draw (courses, days) errors [tolerances] of a sound instrument, as `families_sensors` makes them."""
    error = 0.06 * _memory(random)
    habit, now = _told(sensor)
    begin = np.full(COURSES, now)
    edges = [0, *(day for day, _ in plan), SCORED_DAYS]
    for number, (first, last) in enumerate(pairwise(edges)):
        if number:
            is_reset = plan[number - 1][1] == "calibration"
            begin = 0.05 * random.standard_normal(COURSES) if is_reset else 0.5 * begin
        sign = np.where(random.random(COURSES) < 0.8, habit, -habit)
        slope = sign * random.uniform(0.05, NATURAL_SHARE, COURSES) / sensor.service_days
        error[:, first:last] += begin[:, None] + slope[:, None] * np.arange(last - first)
        begin = begin + slope * max(last - first - 1, 0)
    return error


def _memory(random: np.random.Generator) -> Floats:
    """First-order noise of unit sd with a time constant of 20 days, a course a row."""
    keep = np.exp(-1 / 20.0)
    noise = random.standard_normal((SCORED_DAYS, COURSES))
    for day in range(1, SCORED_DAYS):
        noise[day] = keep * noise[day - 1] + np.sqrt(1 - keep**2) * noise[day]
    return noise.T


def _told(sensor: Sensor) -> tuple[float, float]:
    """Sign of the usual drift, and the error at the beginning of the scored half year."""
    before = sensor.error[:HISTORY_DAYS]
    return float(np.sign(np.nanmean(before))) or 1.0, float(np.nan_to_num(np.nanmedian(before[-4:])))


def faulty(random: np.random.Generator, plan: Plan) -> tuple[Floats, Floats]:
    """Draw (courses, days) errors [tolerances] of a fault or none, and the logs of their weights."""
    kinds, drawn = list(DRAWN), np.array(list(DRAWN.values()))
    true = np.array([FAULTY_SHARE * MIX_KINDS.count(kind) / len(MIX_KINDS) for kind in kinds])
    true[0] = 1.0 - true[1:].sum()
    kind = random.choice(len(kinds), COURSES, p=drawn)
    begin, sign = random.uniform(14, 130, COURSES), random.choice([-1.0, 1.0], COURSES)
    weeks_to = np.exp(random.uniform(*np.log(WEEKS_TO_TOLERANCE), COURSES))
    size = random.choice(SIZES["step"], COURSES)
    calibrations = [day for day, what in plan if what == "calibration"]
    error = np.zeros((COURSES, SCORED_DAYS))
    for name in ERROR_KINDS:
        here = kind == kinds.index(name)
        if name == "step":
            error[here] = size[here, None] * _wrongly_set(begin[here], calibrations)
            continue
        cleaned = calibrations if name == "drift" else [day for day, _ in plan]
        weeks = _weeks(begin[here], cleaned)
        error[here] = (weeks if name == "drift" else weeks**2 / 8.0) / weeks_to[here, None]
    return sign[:, None] * error, np.log(true / drawn)[kind]


def _last(days: Sequence[int]) -> Floats:
    """Last of `days` on or before each scored day."""
    every = np.array([-np.inf, *days])
    return every[np.searchsorted(every, np.arange(SCORED_DAYS), side="right") - 1]


def _weeks(begin: Floats, cleaned: Sequence[int]) -> Floats:
    """Weeks for which a fault has been adding up on each day, since it began or was last cleaned away."""
    day = np.arange(SCORED_DAYS) + 0.5
    return np.clip(day - np.maximum(begin[:, None], _last(cleaned)), 0.0, None) / 7.0


def _wrongly_set(begin: Floats, calibrations: Sequence[int]) -> Bools:
    """Whether the first calibration after `begin`, a wrong one, is the last on each day."""
    every = np.array([*calibrations, np.inf])
    wrong = every[np.searchsorted(every[:-1], begin)]
    wrong = np.where(np.isfinite(wrong), wrong, np.floor(begin))[:, None]
    return (np.arange(SCORED_DAYS) >= wrong) & (_last(calibrations) <= wrong)


def chances(sensor: Sensor, seed: Sequence[int]) -> list[tuple[float, float]]:
    """For every Monday: how probable it is that a positive, and a negative, entry would be right."""
    random, first = np.random.default_rng(seed), HISTORY_DAYS * STEPS_A_DAY
    plan = [(row // STEPS_A_DAY - HISTORY_DAYS, kind) for row, kind, *_ in sensor.services if row >= first]
    wrong, weight = faulty(random, plan)
    error = natural(random, sensor, plan) + wrong
    grabs = [(row, value) for row, _, value in sensor.grabs if row >= first]
    found = []
    for monday in range(7, SCORED_DAYS + 1, 7):
        new = [grab for grab in grabs if monday - 7 <= grab[0] // STEPS_A_DAY - HISTORY_DAYS < monday]
        for row, value in new:
            weight = weight + _fit(sensor, row, value, error[:, row // STEPS_A_DAY - HISTORY_DAYS])
        share_of = np.exp(weight - weight.max())
        ahead = error[:, monday - 1 : _next_service(sensor, plan, monday)]
        found.append(
            (
                float(share_of[_would_be_right(ahead)].sum() / share_of.sum()),
                float(share_of[_would_be_right(-ahead)].sum() / share_of.sum()),
            )
        )
    return found


def _fit(sensor: Sensor, row: int, value: float, error: Floats) -> Floats:
    """Log likelihood of a grab: Student's t of the bench's own tails about the error of each course."""
    m, tails = sensor.measure, FAMILIES[FAMILY].tail_df
    seen = (working_of(m, sensor.shown[row]) - working_of(m, np.float64(value))) / m.tolerance
    if not np.isfinite(seen):
        return np.zeros(len(error))
    scale = np.hypot(m.lab_sd, m.fast_sd) / m.tolerance * np.sqrt((tails - 2) / tails)
    return -(tails + 1) / 2 * np.log1p(((seen - error) / scale) ** 2 / tails)


def _next_service(sensor: Sensor, plan: Plan, monday: int) -> int:
    later = [day for day, _ in plan if day >= monday]
    until = later[0] if later else monday - 1 + round(sensor.service_days)
    return max(monday, min(until, SCORED_DAYS))


def _would_be_right(ahead: Floats) -> Bools:
    """Whether a positive entry would be, by `scoring.is_true`, for (courses, days from today to service)."""
    now = ahead[:, 0]
    return (now > 1.0) | ((now >= SEED_SHARE) & (ahead.max(axis=1) > 1.0))


def entries(of: list[tuple[float, float]], services: Sequence[float], bar: float) -> tuple[Said, ...]:
    """Entries of one who names an error at `bar`, and is done with it at a service or when it fades."""
    made: list[Said] = []
    is_open = False
    for week, chance in enumerate(of, start=1):
        day = HISTORY_DAYS + 7.0 * week - 1
        if is_open and (max(chance) < GIVEN_UP or any(day - 7 < one <= day for one in services)):
            made[-1], is_open = replace(made[-1], end=day - 6), False
        if not is_open and max(chance) >= bar:
            sign = 1.0 if chance[0] > chance[1] else -1.0
            made.append(Said("drift", "watch", "lab grab", day, day, None, True, sign))
            is_open = True
    return tuple(made)


def judged(seed: int) -> list[tuple[Record, list[tuple[float, float]]]]:
    """Return for every sensor of a train with weekly grabs what the checks say, and the chances."""
    made = train(FAMILY, seed, list(mix(seed)))
    return [
        (record(made, made, number), chances(sensor, (seed, number)))
        for number, sensor in enumerate(made.sensors)
        if sensor.order.reference == REFERENCE
    ]


def right_and_in_time(every: Sequence[Record]) -> tuple[Share, Share]:
    """Share of the entries on errors that were right, and of the errors named in time."""
    of_errors = [(one, said) for one in every for said in one.entries if said.kind in ERROR_FINDINGS]
    right = share(is_true(one, said) for one, said in of_errors)
    return right, share(is_in_time(one, passing) for one in every for passing in passings(one))


def main() -> None:
    """Measure, print and record."""
    seeds = np.random.SeedSequence(SEEDS[FAMILY] + 1).generate_state(TRAINS).tolist()
    with get_context("spawn").Pool(PROCESSES) as pool:
        every = list(chain.from_iterable(pool.imap_unordered(judged, seeds)))
    best = Share(0, 0)
    for bar in BARS:
        said = [replace(one, said=entries(of, one.services, bar)) for one, of in every]
        right, in_time = right_and_in_time(said)
        print(f"knows the family, bar {bar:.2f}: right {right}  in time {in_time}")
        if (right.value or 0.0) >= ASKED and (in_time.value or 0.0) > (best.value or 0.0):
            best = in_time
    right, in_time = right_and_in_time([one for one, _ in every])
    print(f"the shipped checks: right {right}  in time {in_time}")
    what = "errors on the list before they doubled the tolerance, sensors with a grab a week"
    knows = f"{what}, by one who knows how the family is made, nine entries in ten right"
    publish(
        Figure(
            f"detection-bound-{name}",
            told,
            figure and round(figure, 3),
            "",
            "higher",
            None,
            None,
            n,
            COMMAND,
            today(),
        )
        for name, told, figure, n in (
            ("in-time", knows, best.value, best.n),
            ("in-time-shipped", what, in_time.value, in_time.n),
            ("right-shipped", "entries on errors that were right, the same sensors", right.value, right.n),
        )
    )


if __name__ == "__main__":
    main()
