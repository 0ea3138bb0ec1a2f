"""Fourth family, water: what a plant of family D goes through, and the true course at each of its places.

How often and how long: common practice, no source.
"""

from dataclasses import dataclass

import numpy as np
from scipy.signal import lfilter

from benchmarks.families import STEPS_A_DAY, YEAR_DAYS, Bools, Clock, Floats, Ints, memory
from benchmarks.families_fourth import Role

SHORT_SHARE = 0.35
"""Of the water plants run ten hours a day, an hour longer or shorter by the day."""

HOLIDAYS = (3, 63, 150, 151, 176, 177, 183, 184, 203, 231, 329)
"""Days of the year, from the first of July."""

SUN_LATE_HOURS = 7.0
STORMS, STOPS = 14.0, 5.0  # a year
FLUSHINGS = (100, 285)
WELL_DAYS, RIVER_DAYS = 25.0, 60.0


@dataclass(frozen=True)
class Course:
    """What a plant goes through, row by row.

    Parameters
    ----------
    running, is_free : (n,) arrays of bool
        Whether it runs; whether people are at home (weekend or holiday).
    solar_hour, storm, wells, flushing, failing : (n,) arrays
        Storms run off within days; `failing` is how far nitrification has broken down, 0 to 1.
    phase : (n,) array
        Of a basin's batch, 0 to 1.
    midnight : (days,) array
        Row at which each day begins by the wall clock.
    no_grabs : (days,) array of bool
        Days on which nobody takes samples.
    is_eight : bool
        Whether all samples are written down as taken at 8:00.
    is_coarse : bool
        Whether displays are coarser than tags.csv says.
    """

    running: Bools
    is_free: Bools
    solar_hour: Floats
    storm: Floats
    wells: Floats
    flushing: Floats
    failing: Floats
    phase: Floats
    midnight: Ints
    no_grabs: Bools
    is_eight: bool
    is_coarse: bool


def plant(random: np.random.Generator, clock: Clock, first_utc_hour: float, is_waste: bool) -> Course:
    """Draw what a plant goes through."""
    days = int(np.ceil(clock.day[-1]))
    holiday = np.isin(np.arange(days) % 365, HOLIDAYS)
    is_free = clock.weekend | np.repeat(holiday, STEPS_A_DAY)[: len(clock.day)]
    hours = random.choice([4.8, 6.0])
    return Course(
        running=_running(random, clock, not is_waste and bool(random.random() < SHORT_SHARE)),
        is_free=is_free,
        solar_hour=(first_utc_hour + 24.0 * clock.day - SUN_LATE_HOURS) % 24.0,
        storm=_storms(random, clock, 6.0 if is_waste else 1.0),
        wells=np.zeros(len(clock.day)) if is_waste else _wells(random, clock),
        flushing=np.zeros(len(clock.day)) if is_waste else _flushing(random, clock, is_free),
        failing=_failing(random, clock),
        phase=(24.0 * clock.day / hours + random.uniform(0, 1)) % 1.0,
        midnight=_midnight(clock, days),
        no_grabs=_no_grabs(random, holiday),
        is_eight=bool(random.random() < 0.5),
        is_coarse=bool(random.random() < 0.5),
    )


def _midnight(clock: Clock, days: int) -> Ints:
    """Row at which each local day begins: in winter an hour after the record's own day does."""
    row = np.arange(days) * STEPS_A_DAY
    return np.asarray(row + np.round((-clock.hour[row] % 24.0) * 4), np.int64)


def _running(random: np.random.Generator, clock: Clock, is_short: bool) -> Bools:
    """All the time, or some ten hours from seven on; less stops of half an hour to eight hours."""
    running = np.ones(len(clock.day), dtype=bool)
    if is_short:
        ends = 17.0 + np.repeat(random.uniform(-1, 1, len(running) // STEPS_A_DAY + 1), STEPS_A_DAY)
        running = (clock.hour >= 7.0) & (clock.hour < ends[: len(running)])
    years = clock.day[-1] / YEAR_DAYS
    for begin in random.uniform(0, clock.day[-1], random.poisson(STOPS * years)):
        running[(clock.day >= begin) & (clock.day < begin + random.uniform(0.5, 8) / 24)] = False
    return running


def _storms(random: np.random.Generator, clock: Clock, slow_days: float) -> Floats:
    """Rain that runs off within a day, and what leaks in or runs after it for `slow_days`."""
    course, years = np.zeros(len(clock.day)), clock.day[-1] / YEAR_DAYS
    for begin in random.uniform(0, clock.day[-1], random.poisson(STORMS * years)):
        since = np.clip(clock.day - begin, 0.0, None)
        size = random.lognormal(-0.7, 0.7)
        fast = np.exp(-since / 0.4) - np.exp(-since / 0.1)
        slow = np.exp(-since / (slow_days * random.uniform(0.5, 1.5))) - np.exp(-since / 0.4)
        course += min(size, 2.5) * (fast + 0.5 * slow) * (since > 0)
    return course


def _wells(random: np.random.Generator, clock: Clock) -> Floats:
    """Share of another source: half of the plants have one; a switch is through within the hour."""
    share, now, day = np.zeros(len(clock.day)), 0.0, random.uniform(5, RIVER_DAYS)
    if random.random() < 0.5:
        return share
    while day < clock.day[-1]:
        now = 1.0 - now
        share[int(day * STEPS_A_DAY) :] = now * random.choice([0.5, 1.0])
        day += (WELL_DAYS if now else RIVER_DAYS) * random.lognormal(0.0, 0.6)
    return mixed(share, 0.4)


def mixed(course: Floats, hours: float) -> Floats:
    """Return what leaves a stirred tank of such a mean stay [first order]."""
    keep = float(np.exp(-24.0 / (STEPS_A_DAY * hours)))
    out, _ = lfilter([1 - keep], [1.0, -keep], course, zi=[keep * course[0]])
    return np.asarray(out)


def _flushing(random: np.random.Generator, clock: Clock, is_free: Bools) -> Floats:
    """Hydrants open on the working days of two weeks a year, from nine to three."""
    week = np.zeros(len(clock.day), dtype=bool)
    for first in FLUSHINGS:
        begin = first + random.integers(-10, 10)
        week |= (clock.day % YEAR_DAYS >= begin) & (clock.day % YEAR_DAYS < begin + 10)
    return mixed(1.0 * (week & ~is_free & (clock.hour >= 9) & (clock.hour < 15)), 0.7)


def _failing(random: np.random.Generator, clock: Clock) -> Floats:
    """Nitrification: fails within days in some cold weeks, comes back within two weeks."""
    course = np.zeros(len(clock.day))
    for year in range(int(clock.day[-1] // YEAR_DAYS) + 1):
        for begin in year * YEAR_DAYS + random.uniform(170, 270, random.poisson(1.5)):
            since = np.clip(clock.day - begin, 0.0, None)
            course += (1 - np.exp(-since / 3.0)) * np.exp(-since / random.uniform(8, 20))
    return np.clip(course, 0.0, 1.0)


def _no_grabs(random: np.random.Generator, holiday: Bools) -> Bools:
    """Holidays, and two absences a year of one to three weeks."""
    resting = holiday.copy()
    for begin in random.uniform(0, len(resting), random.poisson(2 * len(resting) / YEAR_DAYS)):
        resting[int(begin) : int(begin) + random.integers(7, 21)] = True
    return resting


def true_course(random: np.random.Generator, role: Role, clock: Clock, happened: Course) -> Floats:
    """Return the true course of the water at one place, on the working scale."""
    m, count = role.measure, len(clock.day)
    year = np.cos(2 * np.pi * (clock.day - role.crest_day - random.normal(0, 10)) / YEAR_DAYS)
    moved = m.season * (year + 0.2 * memory(random, count, 30.0)) + m.day_sd * _weather(
        random, m.day_phi, count
    )
    moved += m.storm * random.uniform(0.6, 1.4) * happened.storm * (1 - 0.9 * happened.wells)
    moved += m.source * random.uniform(0.5, 1.2) * happened.wells + _setpoints(random, m.setpoint, clock)
    moved += _own(role, happened)
    middle = np.log(m.level) if m.is_log else m.level
    course = middle + moved + m.fast_sd * memory(random, count, 1.0 / 24)
    day = _day(random, role, clock, happened)
    if role.measure.name == "dissolved_oxygen":
        course = 0.05 + (course - 0.05) * day
    else:
        course = course + m.rhythm * day
    if not m.is_log:
        span = m.high - m.low
        course = np.clip(course, m.low + 0.002 * span, m.high - 0.01 * span)
    return np.asarray(course)


def _own(role: Role, happened: Course) -> Floats:
    """Return what only this kind of place knows: flushing days and failing nitrification."""
    m = role.measure
    flushed = {"flow": 0.12, "pressure": -4.0, "chlorine": 0.06}.get(m.name, 0.0) * (role.by == "demand")
    failed = {"ammonia": 1.8, "nitrate": -3.0}.get(m.name, 0.0)
    return flushed * happened.flushing + failed * happened.failing


def _weather(random: np.random.Generator, day_phi: float, count: int) -> Floats:
    """Noise of about unit sd: hours and days of memory, hourly shocks of heavy tails (t, 3 degrees)."""
    days = -1.0 / np.log(day_phi)
    total = np.zeros(count)
    for scale, share in ((0.15, 0.45), (1.0, 0.75), (8.0, 0.48)):
        weight = np.repeat(random.chisquare(3, count // 4 + 1), 4)[:count]
        total += share * memory(random, count, scale * days, random.standard_normal(count) / np.sqrt(weight))
    return total


def _setpoints(random: np.random.Generator, step: float, clock: Clock) -> Floats:
    """Two or three changes a year, one step from the usual, brought about within the hour."""
    course = np.zeros(len(clock.day))
    for begin in np.sort(random.uniform(0, clock.day[-1], random.poisson(2.5 * clock.day[-1] / YEAR_DAYS))):
        course[clock.day >= begin] = step * random.choice([-1.0, 0.0, 1.0])
    return mixed(course, 0.8)


def _day(random: np.random.Generator, role: Role, clock: Clock, happened: Course) -> Floats:
    """Course over the day of half swing about 1."""
    hour, late = clock.hour, np.where(happened.is_free, 1.8, 0.0)
    if role.by == "sun":
        return np.asarray(np.cos(2 * np.pi * (happened.solar_hour - 15.5) / 24.0))
    if role.by == "fill":
        return _filled(random, clock)
    if role.by == "pumps":
        busy = 1.2 + np.exp(-(((hour - 7.5 - late) / 2.0) ** 2)) + 1.5 * happened.storm
        return np.asarray(2.0 * (np.cumsum(busy * random.uniform(0.1, 0.35)) % 1.0) - 1.0)
    if role.by == "cycle":
        return _batch(role, happened.phase, float(random.uniform(0, 1)))
    work = 1.0 * ((hour >= 6.5) & (hour < 16.0) & ~happened.is_free) if role.by == "industry" else 0.0
    people = np.exp(-(((hour - 7.0 - late) / 1.7) ** 2)) + 0.7 * np.exp(-(((hour - 19.0) / 2.6) ** 2))
    return np.asarray(people - 0.9 * np.exp(-(((hour - 3.0) / 2.4) ** 2)) + work)


def _filled(random: np.random.Generator, clock: Clock) -> Floats:
    """Draw a tank down by day and fill it from about half past nine to about half past four."""
    days = np.arange(-1, int(clock.day[-1]) + 2)
    full = days + (4.5 + random.normal(0, 0.7, len(days))) / 24
    empty = days + (21.5 + random.normal(0, 0.5, len(days))) / 24
    at = np.stack([full, empty], axis=1).ravel()
    to = np.stack([random.normal(1, 0.08, len(days)), random.normal(-1, 0.2, len(days))], axis=1).ravel()
    return np.interp(clock.day, at, to)


def _batch(role: Role, phase: Floats, shift: float) -> Floats:
    """Run a basin in batches: fill, react, settle, decant; oxygen and potential follow the air."""
    at = (phase + shift) % 1.0
    if role.measure.name == "level":
        return np.interp(at, [0.0, 0.3, 0.8, 0.95, 1.0], [-1.0, 1.0, 1.0, -1.0, -1.0])
    air = mixed(1.0 * ((at > 0.25) & (at < 0.7)), 0.2)
    return air if role.measure.name == "dissolved_oxygen" else 2.0 * air - 1.0
