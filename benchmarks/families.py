"""Families: two kinds of simulated water, A to tune detectors on, B of other shapes to hold them to account.

Day-to-day scatter and memory follow open plant records (GECCO 2017 challenge, 85 days at one minute:
robust sd of daily medians / lag-one correlation pH .05/.54, turbidity 18 %/.65, chlorine dioxide 6 %/.70,
temperature .23/.89). Everything else about the sizes is common practice, no source.
"""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]

STEPS_A_DAY = 96
YEAR_DAYS = 365.25


@dataclass(frozen=True)
class Measure:
    """One thing that is measured; sizes on the working scale (log for turbidity and flow).

    Parameters
    ----------
    name, unit, low, high, resolution
        As in tags.csv.
    level : float [unit]
        Typical reading.
    is_log : bool
        Whether errors are shares of the reading.
    day_sd, day_phi, fast_sd : float
        Scatter and memory of the water from day to day; the instrument's own scatter from reading to reading.
    season, rhythm : float
        Half swing over the year and over the day.
    tolerance, lab_sd : float
        Admissible error; scatter of the bench.
    service_days : float [day]
    slow_rate : float [1/week]
        Smallest drift of the grid: 0.02 pH a week and what matches it.
    storm, source, setpoint : float
        What a storm, another source and a changed set-point do to it.
    """

    name: str
    unit: str
    low: float
    high: float
    resolution: float
    level: float
    is_log: bool
    day_sd: float
    day_phi: float
    fast_sd: float
    season: float
    rhythm: float
    tolerance: float
    lab_sd: float
    service_days: float
    slow_rate: float
    storm: float
    source: float
    setpoint: float


MEASURES = {
    one.name: one
    for one in (
        Measure("ph", "pH", 0, 14, 0.01, 7.5, False, 0.05, 0.54, 0.012, 0.12, 0.04, 0.2, 0.05, 30, 0.02,
                -0.15, 0.15, 0.08),
        Measure("chlorine", "mg/L", 0, 5, 0.01, 1.2, False, 0.06, 0.70, 0.015, 0.08, 0.05, 0.1, 0.05,
                30, 0.02, -0.12, 0.06, 0.10),
        Measure("turbidity", "NTU", 0, 100, 0.01, 4.0, True, 0.18, 0.65, 0.03, 0.3, 0.06, 0.15, 0.10,
                91, 0.05, 0.9, 0.25, 0.0),
        Measure("temperature", "degC", 0, 40, 0.1, 14.0, False, 0.4, 0.89, 0.04, 7.0, 0.4, 0.5, 0.2, 182, 0.1,
                -0.8, 0.8, 0.0),
        Measure("flow", "gpm", 0, 4000, 1.0, 700.0, True, 0.05, 0.60, 0.02, 0.15, 0.2, 0.05, 0.03, 182, 0.02,
                0.12, 0.0, 0.06),
    )
}  # fmt: skip


@dataclass(frozen=True)
class Family:
    """A kind of water.

    Parameters
    ----------
    name : str
    scales, shares : tuple of float
        Memories of the noise as multiples of the measure's own, and the sd of each part.
    tail_df : float
        Degrees of freedom of its shocks; infinite for normal ones.
    burst_share, burst_gain : float
        Share of time in which it is livelier, and by how much.
    skew, change : float
        Lopsidedness of the season, and how much it changes from year to year.
    rhythm : tuple of (waves a day, share, hour of the crest)
    weekend : float
        The weekend's rhythm over the working day's.
    storms, sources, setpoints, stops : float [1/year]
    """

    name: str
    scales: tuple[float, ...]
    shares: tuple[float, ...]
    tail_df: float
    burst_share: float
    burst_gain: float
    skew: float
    change: float
    rhythm: tuple[tuple[int, float, float], ...]
    weekend: float
    storms: float
    sources: float
    setpoints: float
    stops: float


FAMILIES = {
    "A": Family("A", (1.0,), (1.0,), np.inf, 0.0, 1.0, 0.0, 0.0, ((1, 1.0, 15.0),), 1.0, 6.0, 1.0, 1.5, 8.0),
    "B": Family("B", (0.25, 1.0, 6.0), (0.5, 0.65, 0.55), 4.0, 0.12, 2.2, 1.3, 0.3,
                ((1, 0.6, 7.0), (2, 0.8, 19.5)), 0.6, 9.0, 1.5, 2.25, 8.0),
}  # fmt: skip


@dataclass(frozen=True)
class Events:
    """What happens to a whole train: shapes of about 1 (sources with a sign), and when it stands still."""

    storm: Floats
    source: Floats
    running: Bools


@dataclass(frozen=True)
class Clock:
    """The grid: days since its beginning, local hour, whether it is a weekend.

    Parameters
    ----------
    day, hour : (n,) arrays
    weekend : (n,) array of bool
    """

    day: Floats
    hour: Floats
    weekend: Bools
    angle: Floats = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "angle", 2 * np.pi * self.day / YEAR_DAYS)


def memory(random: np.random.Generator, count: int, days: float, shocks: Floats | None = None) -> Floats:
    """First-order noise of unit sd that forgets with a time constant of `days`.

    Its correlation k steps apart is ``exp(-k / (STEPS_A_DAY * days))``.
    """
    keep = float(np.exp(-1.0 / (STEPS_A_DAY * days)))
    fresh = random.standard_normal(count) if shocks is None else shocks
    driven = fresh * np.sqrt(1.0 - keep**2)
    driven[0] = random.standard_normal()
    return np.asarray(lfilter([1.0], [1.0, -keep], driven))


def wander(random: np.random.Generator, family: Family, count: int, days: float) -> Floats:
    """Noise of about unit sd: as many memories as the family has, heavy tails, bursts."""
    loud = _bursts(random, family, count)
    total = np.zeros(count)
    for scale, share in zip(family.scales, family.shares, strict=True):
        shocks = random.standard_normal(count)
        if np.isfinite(family.tail_df):
            # One weight an hour, so that a heavy shock survives the averaging of the filter.
            weight = random.chisquare(family.tail_df, count // 4 + 1) / family.tail_df
            shocks /= np.sqrt(np.repeat(weight, 4)[:count] * family.tail_df / (family.tail_df - 2))
        total += share * memory(random, count, scale * days, shocks * loud)
    return total


def _bursts(random: np.random.Generator, family: Family, count: int) -> Floats:
    """Gain of the shocks: 1, or more in bursts of some four days, of unit mean square."""
    if not family.burst_share:
        return np.ones(count)
    level = memory(random, count, 4.0)
    gain = np.where(level > np.quantile(level, 1 - family.burst_share), family.burst_gain, 1.0)
    return np.asarray(gain / np.sqrt(np.mean(gain**2)))


def season(random: np.random.Generator, family: Family, clock: Clock) -> Floats:
    """Course over the year of half swing about 1; skewed, and new each year, where the family is so."""
    years = np.arange(int(clock.day[-1] // YEAR_DAYS) + 3)
    height = 1.0 + family.change * random.standard_normal(len(years))
    late = 25.0 * family.change * random.standard_normal(len(years))
    at = clock.day / YEAR_DAYS + random.uniform(0, 1)
    angle = 2 * np.pi * (at - np.interp(at, years, late) / YEAR_DAYS)
    shape = (
        np.exp(family.skew * np.cos(angle)) if family.skew else np.cos(angle) + 0.15 * np.cos(2 * angle + 1)
    )
    shape = (shape - shape.mean()) / (shape.std() * np.sqrt(2))
    return np.asarray(shape * np.interp(at, years, height))


def rhythm(family: Family, clock: Clock) -> Floats:
    """Course over the day of half swing about 1."""
    waves = sum(
        share * np.cos(2 * np.pi * turns * (clock.hour - crest) / 24.0)
        for turns, share, crest in family.rhythm
    )
    return np.asarray(waves * np.where(clock.weekend, family.weekend, 1.0))


def events(random: np.random.Generator, family: Family, clock: Clock) -> Events:
    """Draw what happens to a whole train."""
    count, years = len(clock.day), clock.day[-1] / YEAR_DAYS
    storm, source, running = np.zeros(count), np.zeros(count), np.ones(count, dtype=bool)
    for begin in _dates(random, family.storms, years):
        since = np.clip(clock.day - begin, 0.0, None)
        fall, size = random.uniform(0.8, 3.0), random.uniform(0.5, 1.5)
        storm += size * (1 - np.exp(-since / 0.15)) * np.exp(-since / fall)
    now = 0.0
    for begin in sorted(_dates(random, family.sources, years)):
        new = random.choice([-1.0, 1.0]) * random.uniform(0.3, 1.0)
        source += (new - now) * np.clip((clock.day - begin) / random.uniform(0.2, 2.0), 0.0, 1.0)
        now = new
    for begin in _dates(random, family.stops, years):
        running[(clock.day >= begin) & (clock.day < begin + random.uniform(3, 36) / 24)] = False
    return Events(storm, source, running)


def _dates(random: np.random.Generator, per_year: float, years: float) -> Floats:
    return np.asarray(random.uniform(0, years * YEAR_DAYS, random.poisson(per_year * years)))


def water(
    random: np.random.Generator, family: Family, measure: Measure, clock: Clock, happened: Events
) -> Floats:
    """Return the true course of the water on the working scale."""
    count = len(clock.day)
    middle = np.log(measure.level) if measure.is_log else measure.level
    course = middle + measure.season * season(random, family, clock) + measure.rhythm * rhythm(family, clock)
    course += measure.day_sd * wander(random, family, count, -1.0 / np.log(measure.day_phi))
    course += measure.fast_sd * memory(random, count, 1.0 / 24)
    course += measure.storm * happened.storm + measure.source * random.choice([-1.0, 1.0]) * happened.source
    now = 0.0
    for begin in sorted(_dates(random, family.setpoints, clock.day[-1] / YEAR_DAYS)):
        new = measure.setpoint * random.uniform(-1.0, 1.0)
        course += (new - now) * np.clip((clock.day - begin) * 24, 0.0, 1.0)
        now = new
    return np.asarray(course)


def shown_as(measure: Measure, working: Floats) -> Floats:
    """Amount [unit] of a value on the working scale."""
    return np.exp(working) if measure.is_log else working


def working_of(measure: Measure, shown: Floats) -> Floats:
    """Value on the working scale of an amount [unit]; NaN where it has none."""
    if not measure.is_log:
        return shown
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(shown > 0, np.log(np.maximum(shown, 1e-12)), np.nan)
