"""Fifth family, water: the true course at each place, from what drives its plant."""

import numpy as np

from benchmarks.families import YEAR_DAYS, Clock, Floats, Measure, memory
from benchmarks.families_fifth import Place
from benchmarks.families_fifth_climate import Drivers
from benchmarks.families_third_events import carried

CALM_DAYS, VOLATILITY = 12.0, 0.6
PULL_SPREAD = 0.25
"""How much what drives it differs from place to place, log-normally."""

LOW_SHARE, HIGH_SHARE = 0.002, 0.97
SETPOINTS = 1.5  # a year


def true_course(random: np.random.Generator, place: Place, clock: Clock, happened: Drivers) -> Floats:
    """Return the true course of the water at one place, on the working scale."""
    m, count = place.measure, len(clock.day)
    middle = np.log(m.level) if m.is_log else m.level
    course = middle + m.day_sd * unrest(random, m.day_phi, count)
    late, mix = random.uniform(0.0, 2.0), random.uniform(0.2, 2.0)
    own = _own(random, place, clock, happened)
    for name, pull in place.pulls.items():
        driver = own[name] if name in own else happened.by[name]
        if name not in own and name not in ("stale", "tank", "fire", "drawn", "well"):
            driver = carried(driver, late, mix)
        course = course + pull * random.lognormal(0.0, PULL_SPREAD) * driver
    course = course + _setpoints(random, m, clock)
    if m.is_log:
        return np.asarray(np.clip(course, np.log(m.high) - 12.0, np.log(HIGH_SHARE * m.high)))
    span = m.high - m.low
    return bent(course, m.low + LOW_SHARE * span, m.low + HIGH_SHARE * span, 0.02 * span)


def bent(course: Floats, low: float, high: float, soft: float) -> Floats:
    """Return a course that leans against its bounds: nothing runs below nothing."""
    near = np.clip((course - low) / soft, -50.0, 50.0)
    return np.asarray(np.minimum(np.where(near > 40, course, low + soft * np.log1p(np.exp(near))), high))


def unrest(random: np.random.Generator, day_phi: float, count: int) -> Floats:
    """Noise of about unit sd whose size wanders by itself: quiet weeks and lively ones."""
    days = -1.0 / np.log(day_phi)
    size = np.exp(VOLATILITY * memory(random, count, CALM_DAYS) - VOLATILITY**2)
    slow = 0.6 * memory(random, count, 45.0)
    return np.asarray(0.8 * memory(random, count, days, size * random.standard_normal(count)) + slow)


def _setpoints(random: np.random.Generator, measure: Measure, clock: Clock) -> Floats:
    """Dose or pace changed for good, here by here: chlorine, pH and flow only; through within hours."""
    step = {"chlorine": 0.1, "ph": 0.06, "flow": 0.06}.get(measure.name, 0.0)
    course, years = np.zeros(len(clock.day)), clock.day[-1] / YEAR_DAYS
    for begin in np.sort(random.uniform(0, clock.day[-1], random.poisson(SETPOINTS * years))):
        course[clock.day >= begin] = step * random.uniform(-1.0, 1.0)
    return carried(course, 0.0, 2.0) if step else course


def _own(random: np.random.Generator, place: Place, clock: Clock, happened: Drivers) -> dict[str, Floats]:
    """Return drivers of this place alone: a filter's run and its ripening, a pit's filling."""
    made: dict[str, Floats] = {}
    if "age" in place.pulls:
        made["age"], made["ripe"] = _filter(random, clock)
    if "pit" in place.pulls:
        busy = np.clip(1.0 + 0.5 * happened.by["demand"] + 0.8 * happened.by["wet"], 0.2, None)
        turn = np.cumsum(busy * random.uniform(0.06, 0.25)) % 1.0
        made["pit"] = np.where(turn < 0.85, turn / 0.85, (1.0 - turn) / 0.15) * 2.0 - 1.0
    return made


def _filter(random: np.random.Generator, clock: Clock) -> tuple[Floats, Floats]:
    """Age of a filter's run (0 to 1), and the ripening after its backwash, most of it sent to waste."""
    hours = random.uniform(28, 80)
    lengths = hours * random.uniform(0.75, 1.1, int(24 * clock.day[-1] / hours / 0.75) + 3)
    starts = np.cumsum(lengths) / 24.0 - random.uniform(0, hours) / 24.0 - lengths[0] / 24.0
    number = np.clip(np.searchsorted(starts, clock.day, side="right") - 1, 0, len(starts) - 2)
    since = clock.day - starts[number]
    age = np.clip(since / (starts[number + 1] - starts[number]), 0.0, 1.0) ** 1.3
    size = random.uniform(0.3, 1.2, len(starts))[number]
    return age, np.asarray(size * np.exp(-np.clip(since, 0.0, None) * 24.0 / random.uniform(0.2, 0.5)))
