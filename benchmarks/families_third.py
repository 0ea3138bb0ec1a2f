"""Third family: the measures and the water of family C, written without sight of the detectors.

Whoever wrote it knew how A and B are made, how sensors are scored, what figures are aimed at, what is
published of real plants, and the method in outline (one robust value a day, references before history); not
the code of any check, its settings, or what it scores. It is there to be run once on finished detectors:
never tune on it, and never mend it because of a figure.

It differs from A and B in shape, not in size: weather comes as showers of shocks that die away (A: normal
noise; B: heavy tails), a train switches between river and wells, storms travel down it, seasons are drawn
anew for each year with an autumn overturn in them, the sun keeps its own time while people keep the wall
clock, and a trimmed residual stays at its set-point however wrong its analyser is.

Grounds: scatter and lag-one correlation of daily medians as in open plant records (GECCO 2017 challenge:
pH .05/.54, turbidity 18 %/.65, chlorine dioxide 6 %/.70, temperature .23/.89, conductivity -/.90). Water of a
well: steady temperature near the yearly mean of the air, little turbidity, more conductivity, less oxygen
(hydrology, from memory). Oxygen follows its solubility: 14.6 mg/L at 0, 9.1 at 20 degC (from memory).
Everything else about sizes: common practice, no source.
"""

from dataclasses import dataclass, replace
from functools import cache

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq
from scipy.signal import lfilter

from benchmarks.families import MEASURES, STEPS_A_DAY, YEAR_DAYS, Clock, Floats, Measure, memory
from benchmarks.families_third_events import Plant, carried

SHOWERS_A_DAY = 1.5
SHOWER_SHARE = 0.6
"""Of the variance of the water from day to day: the rest is normal noise of the same memory."""

MEDIAN_LONGER = 1.25
"""A day's median remembers less than its mean: so much longer is the memory that gives the same (tried)."""

WELL_SEASON = 0.15
"""Share of the season, the sun and a storm that is left in the water of a well."""

THIRD_MEASURES = {
    one.name: one
    for one in (
        replace(MEASURES["ph"], level=7.9, rhythm=0.06, season=0.15, service_days=91),
        replace(MEASURES["chlorine"], level=0.95, day_sd=0.057, rhythm=0.04, service_days=91),
        replace(MEASURES["turbidity"], level=3.2, season=0.4, rhythm=0.04, service_days=91),
        replace(MEASURES["temperature"], level=11.5, day_sd=0.23, season=7.5, rhythm=0.5, service_days=91),
        replace(MEASURES["flow"], level=850.0, rhythm=0.25, season=0.2, service_days=91),
        Measure("dissolved_oxygen", "mg/L", 0, 20, 0.01, 9.8, False, 0.15, 0.75, 0.03, 2.0, 0.4, 0.3, 0.1, 91,
                0.04, -0.5, 0.0, 0.0),
        Measure("conductivity", "uS/cm", 0, 1000, 1.0, 380.0, False, 9.0, 0.90, 1.0, 45.0, 2.0, 20.0, 4.0, 91,
                3.0, -60.0, 0.0, 0.0),
        Measure("level", "ft", 0, 24, 0.01, 13.0, False, 0.25, 0.50, 0.02, 0.6, 2.5, 0.2, 0.05, 91, 0.04,
                0.2, 0.0, 0.5),
    )
}  # fmt: skip
"""The bench's five, with its tolerances and rates, and three of other kinds for its mix of plants."""


@dataclass(frozen=True)
class Habit:
    """What a measure does in this family; sizes on its working scale.

    Parameters
    ----------
    wells : float
        What the wells' water has more of it than the river's.
    quiet : float
        Scatter of the wells' water as a share of the river's.
    storm : float
        What a storm of size 1 does to it.
    standing : float
        Where it goes while the water stands still.
    setpoint : float
        Smallest step of its set-point; 0 for none.
    up : float
        Share of its showers that go up.
    crest_day : float [day]
        When its season is highest, counted from the first of July.
    by : {"sun", "demand", "fill"}
        What its day follows.
    is_skewed : bool
        Whether the scatter of its readings is one-sided, as with bubbles and grit.
    """

    wells: float
    quiet: float
    storm: float
    standing: float
    setpoint: float
    up: float
    crest_day: float
    by: str
    is_skewed: bool


HABITS = {
    "ph": Habit(-0.35, 0.5, -0.20, 0.15, 0.1, 0.5, 60, "sun", False),
    "chlorine": Habit(0.12, 0.6, -0.12, -0.50, 0.1, 0.3, 205, "demand", False),
    "turbidity": Habit(-0.9, 0.5, 1.0, -0.60, 0.0, 0.9, 320, "demand", True),
    "temperature": Habit(0.0, 0.3, -1.0, 4.0, 0.0, 0.5, 25, "sun", False),
    "flow": Habit(-0.08, 1.0, 0.04, 0.0, 0.05, 0.5, 20, "demand", False),
    "dissolved_oxygen": Habit(-2.5, 0.4, -0.5, -2.0, 0.0, 0.5, 215, "sun", True),
    "conductivity": Habit(150.0, 0.3, -60.0, 15.0, 0.0, 0.3, 230, "sun", False),
    "level": Habit(0.0, 1.0, 0.2, 0.0, 0.5, 0.5, 250, "fill", False),
}  # fmt: skip


def day_correlation(memory_days: float) -> float:
    """Lag-one correlation of day means of a first-order process [Ornstein-Uhlenbeck, integrated twice].

    ``(1 - e)^2 / (2 (a - 1 + e))`` with ``a = 1 / memory_days`` and ``e = exp(-a)``.
    """
    a = 1.0 / memory_days
    return float((1 - np.exp(-a)) ** 2 / (2 * (a - 1 + np.exp(-a))))


@cache
def memory_of(measure: Measure) -> tuple[float, float]:
    """Memory [day] and sd of the process whose day medians have the published scatter and memory."""
    days = float(brentq(lambda one: day_correlation(one) - measure.day_phi, 0.05, 100.0))
    days *= MEDIAN_LONGER
    a = 1.0 / days
    return days, measure.day_sd / float(np.sqrt(2 * (a - 1 + np.exp(-a)))) * a


def showers(random: np.random.Generator, count: int, days: float, up: float) -> Floats:
    """Shocks of exponential size at random instants, each dying away within `days`; of unit variance.

    Mean and variance of such shot noise are ``rate * days * E[s]`` and ``rate * days * E[s^2] / 2``
    (Campbell's theorem); sizes of mean 1 have ``E[s^2] = 2``.
    """
    hits = random.poisson(SHOWERS_A_DAY / STEPS_A_DAY, count)
    sign = np.where(random.random(count) < up, 1.0, -1.0)
    shocks = hits * sign * random.exponential(1.0, count)
    keep = float(np.exp(-1.0 / (STEPS_A_DAY * days)))
    mean, size = SHOWERS_A_DAY * days * (2 * up - 1), np.sqrt(SHOWERS_A_DAY * days)
    start = [keep * (mean + size * random.standard_normal())]
    fallen, _ = lfilter([1.0], [1.0, -keep], shocks, zi=start)
    return np.asarray((fallen - mean) / size)


def weather(random: np.random.Generator, measure: Measure, count: int) -> Floats:
    """Course of the water from day to day [working scale], of the published scatter and memory."""
    days, size = memory_of(measure)
    falling = showers(random, count, days, HABITS[measure.name].up)
    normal = memory(random, count, days)
    return np.asarray(size * (np.sqrt(SHOWER_SHARE) * falling + np.sqrt(1 - SHOWER_SHARE) * normal))


def season(random: np.random.Generator, crest_day: float, clock: Clock) -> Floats:
    """Course over the years of half swing about 1: knots a month apart, each year drawn anew.

    Through them goes a curve that does not overshoot (PCHIP, Fritsch and Carlson 1980). In October or
    November the lake turns over: within days the water jumps to what lay below.
    """
    years = int(clock.day[-1] // YEAR_DAYS) + 3
    height, late = random.uniform(0.75, 1.25, years), random.normal(0.0, 12.0, years)
    knots = np.arange(-YEAR_DAYS / 12, clock.day[-1] + YEAR_DAYS / 6, YEAR_DAYS / 12)
    year = np.clip(((knots + 182) // YEAR_DAYS).astype(int), 0, years - 1)
    angle = 2 * np.pi * (knots - crest_day - late[year]) / YEAR_DAYS
    drawn = height[year] * np.cos(angle) + 0.12 * random.standard_normal(len(knots))
    course = PchipInterpolator(knots, drawn)(clock.day)
    for number in range(years):
        turns, size = number * YEAR_DAYS + random.uniform(95, 140), random.normal(0.0, 0.15)
        since = np.clip(clock.day - turns, -30.0, None)
        course += size / (1 + np.exp(-since / 0.6)) * np.exp(-np.clip(since, 0.0, None) / 45.0)
    return np.asarray(course)


def daily_round(habit: Habit, clock: Clock, plant: Plant) -> Floats:
    """Course over the day of half swing about 1: of the sun, of the people, or of a tank filled at night."""
    if habit.by == "sun":
        return np.asarray(np.cos(2 * np.pi * (plant.solar_hour - 15.0) / 24.0))
    if habit.by == "fill":
        hour = (clock.hour - 6.0) % 24.0
        return np.where(hour < 16.0, 1.0 - hour / 8.0, (hour - 20.0) / 4.0)
    late = np.where(clock.weekend, 2.0, 0.0)
    morning = np.exp(-(((clock.hour - 7.0 - late) / 1.6) ** 2))
    evening = np.exp(-(((clock.hour - 19.5) / 2.5) ** 2))
    night = np.exp(-(((clock.hour - 3.0) / 2.5) ** 2))
    return np.asarray(morning + 0.8 * evening - 0.9 * night)


def setpoints(random: np.random.Generator, step: float, clock: Clock) -> Floats:
    """Course of a set-point about its usual place, as the loop brings it about.

    Whole steps, about twice a year, one or two off the usual; a second-order loop goes past the new
    value by a fifth and swings in within some hours.
    """
    course, now = np.zeros(len(clock.day)), 0.0
    if not step:
        return course
    for begin in np.sort(random.uniform(0, clock.day[-1], random.poisson(2.0 * clock.day[-1] / YEAR_DAYS))):
        new, hours = step * random.choice([-2, -1, 0, 1, 2]), random.uniform(1.0, 4.0)
        since = np.clip((clock.day - begin) * 24.0, 0.0, 500.0) / hours
        swing = np.exp(-since) * (np.cos(2 * since) + 0.5 * np.sin(2 * since))
        course += np.where(clock.day >= begin, (new - now) * (1 - swing), 0.0)
        now = new
    return course


def water(random: np.random.Generator, measure: Measure, clock: Clock, plant: Plant, trimmed: bool) -> Floats:
    """Return the true course of the water on the working scale.

    Where the residual is `trimmed` on this very analyser it is what the analyser shows that comes back, free
    of its error: the loop keeps that at the set-point and takes most of the rest away.
    """
    habit, count = HABITS[measure.name], len(clock.day)
    delay_hours, mix_hours = random.uniform(0, 10), random.uniform(0.3, 3.0)
    wells = carried(plant.wells, delay_hours, mix_hours)
    storm = carried(plant.storm, delay_hours, mix_hours) * (1 - (1 - WELL_SEASON) * wells)
    river = 1 - (1 - WELL_SEASON) * wells
    own_day = daily_round(habit, clock, plant) * (river if habit.by == "sun" else 1.0)
    moved = measure.season * season(random, habit.crest_day, clock) * river + measure.rhythm * own_day
    moved += (1 - (1 - habit.quiet) * wells) * weather(random, measure, count)
    moved += habit.wells * random.uniform(0.5, 1.3) * wells + habit.storm * random.uniform(0.6, 1.4) * storm
    if trimmed:
        moved = 0.25 * moved
    middle = np.log(measure.level) if measure.is_log else measure.level
    course = middle + moved + setpoints(random, habit.setpoint, clock) + habit.standing * plant.standing
    return np.asarray(course + measure.fast_sd * memory(random, count, 1.0 / 24))


def scatter(random: np.random.Generator, measure: Measure, count: int) -> Floats:
    """Return the instrument's own scatter from reading to reading: one-sided (gamma) or sharp (Laplace)."""
    if HABITS[measure.name].is_skewed:
        return np.asarray(measure.fast_sd * (random.gamma(2.0, 1.0, count) - 2.0) / np.sqrt(2.0))
    return np.asarray(measure.fast_sd * random.laplace(0.0, np.sqrt(0.5), count))
