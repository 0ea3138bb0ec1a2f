"""Fifth family, climate: the weather of a place, and all that drives the water of its plant, row by row.

Seasons follow the sun of 42 degrees of latitude. Half of the plants have them half a year later, so that the
scored half year is a summer as often as a winter; the wall clock stays the bench's. How often and how long
anything happens: common practice, no source.
"""

from dataclasses import dataclass

import numpy as np

from benchmarks.families import STEPS_A_DAY, YEAR_DAYS, Bools, Clock, Floats, memory
from benchmarks.families_fifth_running import Cycles, cycles, running
from benchmarks.families_third_events import carried

SUN_LATE_HOURS, LATITUDE, TILT = 7.0, np.radians(42.0), np.radians(23.4)
WARMEST, SOLSTICE = 22.0, -10.0  # days from the first of July
RAINS, FIRES, BLINKS = 34.0, 3.0, 10.0  # a year
BURN_SHARE, DROUGHT_SHARE = 0.35, 0.35
FALL_TURN, SPRING_TURN, MELT, BLOOM = 112.0, 292.0, 268.0, 40.0  # days from the first of July


@dataclass(frozen=True)
class Drivers:
    """What a plant goes through.

    Parameters
    ----------
    running : (n,) array of bool
    by : mapping of str to (n,) array
        Drivers by name, of a size about 1. Warm: the water's warmth; air, sun, wind: the weather; photo: what
        algae do by day; wet, runoff: the ground and the creeks; burn: a month of a higher dose; stale: water
        that stood while the pumps did; well: which well runs; drawn: its drawdown; tank: the tank's level.
    blinks : list of (row, rows)
        When the power blinked, in rows of five minutes: everything recorded holds its value.
    lost : (n,) array of bool
        Rows the recorder lost.
    """

    running: Bools
    by: dict[str, Floats]
    blinks: list[tuple[int, int]]
    lost: Bools


def drivers(random: np.random.Generator, clock: Clock, first_utc_hour: float, kind: str) -> Drivers:
    """Draw what a plant of one kind (wells, lake, lagoon) goes through."""
    later = float(random.choice([0.0, YEAR_DAYS / 2]))
    season = Clock(clock.day + later, clock.hour, clock.weekend)
    solar = (first_utc_hour + 24.0 * clock.day - SUN_LATE_HOURS) % 24.0
    by = _weather(random, season, solar)
    by |= _water(random, season, by, solar)
    by |= _people(random, clock, by)
    pumped = cycles(random, clock, by["demand"] + 0.6 * by["warm"]) if kind == "wells" else None
    by |= _tank(by, pumped)
    if kind == "wells":
        for name in ("bloom", "melt", "runoff", "turn", "ice", "photo"):
            by[name] = np.zeros(len(clock.day))
        by["warm"] = 0.08 * carried(by["warm"], 0.0, 24.0 * 60)
        by["air"] = 0.2 * by["air"]
    runs = pumped.running if pumped else running(random, clock)
    return Drivers(runs, by, _blinks(random, clock), _lost(random, clock))


def _weather(random: np.random.Generator, clock: Clock, solar: Floats) -> dict[str, Floats]:
    """Air, sun, wind and the rain, which falls by showers in spells."""
    count = len(clock.day)
    season = np.cos(2 * np.pi * (clock.day - WARMEST) / YEAR_DAYS)
    spells = memory(random, count, 3.5)
    low = TILT * np.cos(2 * np.pi * (clock.day - SOLSTICE) / YEAR_DAYS)
    height = np.sin(LATITUDE) * np.sin(low) + np.cos(LATITUDE) * np.cos(low) * np.cos(
        2 * np.pi * (solar - 12.0) / 24.0
    )
    sun = np.clip(height, 0.0, None) * np.clip(0.7 + 0.35 * spells, 0.1, 1.0)
    air = season + 0.3 * spells + 0.5 * (carried(sun, 1.0, 3.0) - 0.25)
    wind = np.clip(memory(random, count, 0.8), 0.0, None) * (1.0 + 0.5 * (solar > 11) * (solar < 19))
    rain = np.zeros(count)
    years = clock.day[-1] / YEAR_DAYS
    for begin in random.uniform(0, count, random.poisson(RAINS * years)).astype(int):
        if spells[begin] < random.normal(0.6, 0.7):
            hours = random.uniform(1, 14)
            rain[begin : begin + int(hours * 4)] += random.lognormal(-0.3, 0.8) / hours
    dry = _drought(random, clock)
    rain *= 1.0 - 0.85 * dry
    return {"season": season, "air": air, "sun": sun, "wind": wind, "rain": rain, "drought": dry}


def _drought(random: np.random.Generator, clock: Clock) -> Floats:
    """In some years, three to five months that end within weeks of rain."""
    course = np.zeros(len(clock.day))
    for begin in _each_year(random, clock, 10.0, 35.0):
        if random.random() < DROUGHT_SHARE:
            last = random.uniform(90, 150)
            grown = np.clip((clock.day - begin) / last, 0.0, 1.0) ** 0.8
            course += grown * np.exp(-np.clip(clock.day - begin - last, 0.0, None) / 15.0)
    return np.asarray(np.clip(course, 0.0, 1.2))


def _each_year(random: np.random.Generator, clock: Clock, day: float, spread: float) -> Floats:
    """One date about the same day of each season the record touches."""
    years = np.arange(int(clock.day[0] // YEAR_DAYS) - 1, int(clock.day[-1] // YEAR_DAYS) + 1)
    return np.asarray(years * YEAR_DAYS + day + random.normal(0, spread, len(years)))


def _water(
    random: np.random.Generator, clock: Clock, by: dict[str, Floats], solar: Floats
) -> dict[str, Floats]:
    """Return what weather and season do to a lake or a lagoon, and to the ground around it."""
    warm = carried(by["season"] + 0.3 * (by["air"] - by["season"]), 24.0, 24.0 * 9)
    wet = np.clip(carried(by["rain"], 3.0, 24.0 * 4) * 18.0, 0.0, 2.5)
    runoff = np.clip(carried(by["rain"], 2.0, 14.0) * (0.4 + wet) * 8.0, 0.0, 2.5)
    bloom = _blooms(random, clock)
    growth = np.clip(0.5 + 0.6 * warm, 0.05, None) * (1.0 + bloom)
    ice = 1.0 / (1.0 + np.exp((warm + random.uniform(0.7, 1.0)) / 0.06))
    photo = carried(by["sun"], 1.0, 4.0) * 2.2 * growth * (1.0 - 0.8 * ice) - 0.25
    return {
        "warm": warm, "wet": wet, "runoff": runoff, "bloom": bloom, "photo": photo, "ice": ice,
        "melt": _melt(random, clock, solar), "turn": _turnovers(random, clock),
    }  # fmt: skip


def _blooms(random: np.random.Generator, clock: Clock) -> Floats:
    """Algae: up within a week or two, there for a while, gone within days; none to two a summer."""
    course = np.zeros(len(clock.day))
    for begin in [b for _ in range(2) for b in _each_year(random, clock, BLOOM, 35.0)]:
        if random.random() < 0.6:
            last, size = random.uniform(6, 40), random.uniform(0.4, 1.3)
            up = 1.0 / (1.0 + np.exp(np.clip(-(clock.day - begin) / random.uniform(1.2, 3.0), -50, 50)))
            down = 1.0 / (
                1.0 + np.exp(np.clip((clock.day - begin - last) / random.uniform(0.5, 1.5), -50, 50))
            )
            course += size * up * down
    return np.asarray(np.clip(course, 0.0, 1.6))


def _melt(random: np.random.Generator, clock: Clock, solar: Floats) -> Floats:
    """Snow: two to five weeks in spring, higher each afternoon and evening."""
    course = np.zeros(len(clock.day))
    for begin in _each_year(random, clock, MELT, 14.0):
        part = np.clip((clock.day - begin) / random.uniform(14, 38), 0.0, 1.0)
        course += random.uniform(0.3, 1.3) * np.sin(np.pi * part) ** 2
    return np.asarray(course * (1.0 + 0.25 * np.cos(2 * np.pi * (solar - 18.0) / 24.0)))


def _turnovers(random: np.random.Generator, clock: Clock) -> Floats:
    """Autumn and spring: the lake mixes within days, which is felt for weeks."""
    course = np.zeros(len(clock.day))
    for day in (FALL_TURN, SPRING_TURN):
        for begin in _each_year(random, clock, day, 12.0):
            since = np.clip(clock.day - begin, 0.0, None)
            course += random.uniform(0.3, 1.2) * (1 - np.exp(-since / 2.0)) * np.exp(-since / 14.0)
    return course


def _people(random: np.random.Generator, clock: Clock, by: dict[str, Floats]) -> dict[str, Floats]:
    """Demand (lawns before dawn in summer), fires and flushed hydrants, and the month of a higher dose."""
    hour, late = clock.hour, np.where(clock.weekend, 1.5, 0.0)
    dry = np.clip(by["season"], 0.0, None) * np.clip(1.0 - by["wet"], 0.0, 1.0)
    day = np.exp(-(((hour - 6.8 - late) / 1.4) ** 2)) + 0.8 * np.exp(-(((hour - 18.5) / 2.2) ** 2))
    day = day + 1.4 * dry * np.exp(-(((hour - 4.5) / 1.3) ** 2)) + 0.35 * np.sin(np.pi * hour / 24.0)
    demand = day - 0.6 + 0.15 * memory(random, len(hour), 0.2) + 0.2 * memory(random, len(hour), 4.0)
    fire, burn = np.zeros(len(hour)), np.zeros(len(hour))
    years = clock.day[-1] / YEAR_DAYS
    for begin in random.uniform(0, clock.day[-1], random.poisson(FIRES * years)):
        here = (clock.day >= begin) & (clock.day < begin + random.uniform(0.5, 5) / 24)
        fire[here] = random.uniform(0.4, 1.2)
    if random.random() < BURN_SHARE:
        for begin in _each_year(random, clock, random.uniform(0, 365), 8.0):
            burn[(clock.day >= begin) & (clock.day < begin + random.uniform(18, 34))] = 1.0
    return {"demand": demand, "fire": fire, "burn": carried(burn, 0.0, 12.0)}


def _tank(by: dict[str, Floats], pumped: Cycles | None) -> dict[str, Floats]:
    """Tank, wells and standing water: of the cycles, or of a plant that follows the demand."""
    if pumped:
        return {"tank": pumped.tank, "well": pumped.well, "drawn": pumped.drawn, "stale": pumped.stale}
    none = np.zeros(len(by["demand"]))
    tank = np.clip(-1.6 * (carried(by["demand"], 2.0, 5.0) - 0.1), -1.6, 1.6)
    return {"tank": tank, "well": none, "drawn": none, "stale": none}


def _blinks(random: np.random.Generator, clock: Clock) -> list[tuple[int, int]]:
    """Power blinks, in rows of five minutes."""
    at = random.integers(1, 3 * len(clock.day) - 8, random.poisson(BLINKS * clock.day[-1] / YEAR_DAYS))
    return [(int(begin), int(random.integers(1, 6))) for begin in at]


def _lost(random: np.random.Generator, clock: Clock) -> Bools:
    """Rows lost to the recorder: four times a year up to three hours."""
    lost = np.zeros(len(clock.day), dtype=bool)
    for begin in random.integers(0, len(lost), random.poisson(4.0 * len(lost) / STEPS_A_DAY / 365)):
        lost[begin : begin + random.integers(1, 13)] = True
    return lost
