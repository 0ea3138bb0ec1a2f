"""Third family, events: what happens to a whole train of family C, and how it comes to each of its tags.

Two in five trains switch between river and wells; every train has its storms, its stops and two nights in
which the clocks are changed; one in seven runs at night alone, when power is cheap. How often and how
long: common practice, no source.
"""

from dataclasses import dataclass

import numpy as np
from scipy.signal import lfilter

from benchmarks.families import STEPS_A_DAY, YEAR_DAYS, Bools, Clock, Floats

SWITCHING_SHARE, NIGHT_SHARE, WALL_CLOCK_SHARE = 0.4, 0.15, 0.35
RIVER_DAYS, WELL_DAYS = 80.0, 30.0
NIGHT_BEGINS, NIGHT_ENDS = 20.0, 8.0
STORM_FRONTS, STOPS = 4.0, 6.0  # a year
SUN_LATE_HOURS = 7.0
"""The sun is so far behind UTC (America/Denver, about 105 degrees west): it knows no daylight saving time."""

STANDING_HOURS, FLUSHING_HOURS = 5.0, 0.12


@dataclass(frozen=True)
class Plant:
    """What a train goes through.

    Parameters
    ----------
    wells : (n,) array
        Share of the water that comes from the wells.
    storm : (n,) array
        Storms at the intake; a usual one peaks at about 1.
    running : (n,) array of bool
    standing : (n,) array
        How far the water has gone stale, 0 to 1.
    solar_hour : (n,) array
    lost : (n,) array of bool
        Rows that a recorder on wall-clock time wrote twice: the second hour took the place of the first.
    is_night_plant : bool
    """

    wells: Floats
    storm: Floats
    running: Bools
    standing: Floats
    solar_hour: Floats
    lost: Bools
    is_night_plant: bool


def plant(random: np.random.Generator, clock: Clock, first_utc_hour: float) -> Plant:
    """Draw what a train goes through.

    Parameters
    ----------
    random : Generator
    clock : Clock
    first_utc_hour : float
        Hour of the first row [UTC].
    """
    is_night_plant = bool(random.random() < NIGHT_SHARE)
    running = _running(random, clock, is_night_plant)
    lost = _repeated(clock) if random.random() < WALL_CLOCK_SHARE else np.zeros(len(clock.day), dtype=bool)
    solar_hour = (first_utc_hour + 24.0 * clock.day - SUN_LATE_HOURS) % 24.0
    wells = _wells(random, clock) if random.random() < SWITCHING_SHARE else np.zeros(len(clock.day))
    return Plant(wells, storms(random, clock), running, _standing(running), solar_hour, lost, is_night_plant)


def carried(course: Floats, delay_hours: float, mix_hours: float) -> Floats:
    """Return what comes down the train: later, and mixed as in one stirred tank (first order)."""
    rows = round(delay_hours * STEPS_A_DAY / 24)
    late = np.concatenate([np.full(rows, course[0]), course[: len(course) - rows]])
    keep = float(np.exp(-24.0 / (STEPS_A_DAY * mix_hours)))
    mixed, _ = lfilter([1 - keep], [1.0, -keep], late, zi=[keep * late[0]])
    return np.asarray(mixed)


def storms(random: np.random.Generator, clock: Clock) -> Floats:
    """Storms at the intake, in fronts of several within a week, mostly from April to September.

    Each rises and falls as a unit hydrograph of equal reservoirs does (gamma shape; Nash 1957).
    """
    course = np.zeros(len(clock.day))
    years = clock.day[-1] / YEAR_DAYS
    for front in random.uniform(0, clock.day[-1], random.poisson(2 * STORM_FRONTS * years)):
        # The record begins on the first of July: half of the fronts are kept, most of them in the warm half.
        if random.random() > 0.5 + 0.4 * np.cos(2 * np.pi * front / YEAR_DAYS):
            continue
        for begin in front + random.uniform(0, 6, 1 + random.poisson(1.2)):
            peak_days = random.uniform(0.15, 0.8)
            size = min(3.0, 0.7 * random.lognormal(0.0, 0.6))
            since = np.clip(clock.day - begin, 0.0, 30.0) / peak_days
            course += size * since**1.5 * np.exp(1.5 * (1 - since))
    return course


def _wells(random: np.random.Generator, clock: Clock) -> Floats:
    """Share of the wells: on and off for weeks, each change taking hours."""
    at, share = [-1.0], [0.0]
    now, day = 0.0, float(random.uniform(5, RIVER_DAYS))
    while day < clock.day[-1]:
        until = day + random.uniform(1, 12) / 24
        at, share = [*at, day, until], [*share, now, 1 - now]
        now = 1 - now
        day = until + (WELL_DAYS if now else RIVER_DAYS) * random.lognormal(0.0, 0.5)
    return np.asarray(np.interp(clock.day, at, share))


def _running(random: np.random.Generator, clock: Clock, is_night_plant: bool) -> Bools:
    """When the plant runs: always, or at night; less the stops of hours and a revision once a year."""
    running = np.ones(len(clock.day), dtype=bool)
    if is_night_plant:
        running = (clock.hour >= NIGHT_BEGINS) | (clock.hour < NIGHT_ENDS)
    years = clock.day[-1] / YEAR_DAYS
    for begin in random.uniform(0, clock.day[-1], random.poisson(STOPS * years)):
        running[(clock.day >= begin) & (clock.day < begin + random.uniform(1, 10) / 24)] = False
    for year in range(int(np.ceil(years))):
        begin = (year + random.uniform(0.1, 0.9)) * YEAR_DAYS
        running[(clock.day >= begin) & (clock.day < begin + random.uniform(2, 5))] = False
    return running


def _standing(running: Bools) -> Floats:
    """How stale the water is: it goes so within hours, and is flushed out within minutes of the start."""
    row = np.arange(len(running))
    hours = (row - np.maximum.accumulate(np.where(running, row, 0))) * 24.0 / STEPS_A_DAY
    stale = np.where(running, 0.0, 1 - np.exp(-hours / STANDING_HOURS))
    last_stop = np.maximum.accumulate(np.where(running, 0, row))
    since = (row - last_stop) * 24.0 / STEPS_A_DAY
    return np.where(running, stale[last_stop] * np.exp(-since / FLUSHING_HOURS), stale)


def _repeated(clock: Clock) -> Bools:
    """Rows of an hour that the wall clock shows once more an hour later, on the night in autumn."""
    rows = STEPS_A_DAY // 24
    again = np.zeros(len(clock.hour), dtype=bool)
    again[:-rows] = clock.hour[:-rows] == clock.hour[rows:]
    return again
