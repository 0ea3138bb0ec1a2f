"""Weather: seasons, storms and what they leave behind in the ground and in the reservoir.

The dates of the storms are part of the plant's history and never change; the seed makes each a little
larger or smaller.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from pipeline.demo.calendar import Calendar, FloatArray
from pipeline.demo.noise import jitter, lag, wander


@dataclass(frozen=True)
class Storm:
    """Rain that starts at wall clock `start`, lasts `hours` [h] and brings `inches` [in]."""

    start: str
    hours: float
    inches: float


# Five dry weeks in July and August; the largest storms are those of May 25 and November 12.
STORMS = (
    Storm("2025-09-27T15:00", 4, 0.40),
    Storm("2025-10-11T08:00", 8, 0.50),
    Storm("2025-10-28T20:00", 6, 0.35),
    Storm("2025-11-20T09:00", 9, 0.25),
    Storm("2025-12-14T12:00", 10, 0.20),
    Storm("2026-01-24T10:00", 10, 0.20),
    Storm("2026-02-22T07:00", 8, 0.25),
    Storm("2026-03-14T06:00", 10, 0.45),
    Storm("2026-03-29T16:00", 5, 0.30),
    Storm("2026-04-10T11:00", 8, 0.50),
    Storm("2026-04-22T18:00", 6, 0.35),
    Storm("2026-05-02T14:00", 6, 0.55),
    Storm("2026-05-13T16:00", 4, 0.40),
    Storm("2026-05-25T21:00", 11, 1.30),
    Storm("2026-06-08T17:00", 3, 0.40),
    Storm("2026-06-20T15:00", 3, 0.35),
    Storm("2026-07-02T16:00", 3, 0.30),
    Storm("2026-08-14T15:00", 5, 0.50),
    Storm("2026-08-22T17:00", 3, 0.40),
    Storm("2026-09-03T13:00", 7, 0.55),
    Storm("2026-09-15T15:00", 4, 0.35),
    Storm("2026-09-26T11:00", 5, 0.30),
    Storm("2026-10-09T08:00", 8, 0.50),
    Storm("2026-10-23T12:00", 6, 0.40),
    Storm("2026-11-12T04:30", 10, 1.25),
)

# Autumn turnover: the reservoir mixes from top to bottom within some days.
TURNOVERS = ("2025-10-16T12:00", "2026-10-17T12:00")


@dataclass(frozen=True)
class Weather:
    """What the sky and the ground do, each an array over the calendar.

    Parameters
    ----------
    water_c : ndarray
        Temperature at the reservoir outlet [degC].
    rain_in_h : ndarray
        Rain [in/h].
    runoff : ndarray
        Quick response of the ground, 1 = the peak of about one inch in eight hours.
    wetness : ndarray
        Slow response, lasting days.
    melt : ndarray
        Snow melt in late spring, 0 to 1.
    turnover : ndarray
        Autumn turnover of the reservoir, 0 to 1.
    """

    water_c: FloatArray
    rain_in_h: FloatArray
    runoff: FloatArray
    wetness: FloatArray
    melt: FloatArray
    turnover: FloatArray


def storm_list(calendar: Calendar) -> list[Storm]:
    """Return the storms of the record; before the written history they repeat every 364 days."""
    first = calendar.wall[0].astype(datetime)
    found = []
    for storm in STORMS:
        start = datetime.fromisoformat(storm.start)
        while start >= first:
            found.append(Storm(start.isoformat(), storm.hours, storm.inches))
            start -= timedelta(days=364)
            if start >= datetime.fromisoformat(STORMS[0].start):
                break
    return sorted(found, key=lambda storm: storm.start)


def make_weather(seed: int, calendar: Calendar) -> Weather:
    """Make the weather of the record."""
    excess = np.zeros(len(calendar))
    rain = np.zeros(len(calendar))
    for storm in storm_list(calendar):
        inches = storm.inches * jitter(seed, f"storm {storm.start}", 0.08)
        hours = calendar.hours_since(storm.start)
        falling = (hours >= 0.0) & (hours < storm.hours)
        burst = 1.0 + 0.5 * np.sin(2.0 * np.pi * hours / storm.hours * 1.5)
        rain += np.where(falling, burst * inches / storm.hours, 0.0)
        # Wet ground lets more of a large storm run off than of a small one.
        excess += np.where(falling, burst * inches**1.5 / storm.hours, 0.0)
    return Weather(
        water_c=_water(seed, calendar),
        rain_in_h=rain,
        runoff=8.0 * lag(lag(excess, 1.5, calendar), 2.0, calendar),
        wetness=8.0 * lag(excess, 30.0, calendar),
        melt=np.exp(-0.5 * ((calendar.day_of_year - 148.0) / 16.0) ** 2),
        turnover=_bells(calendar, TURNOVERS, 4.0),
    )


def _water(seed: int, calendar: Calendar) -> FloatArray:
    day = np.cos(2.0 * np.pi * (calendar.hour - 18.0) / 24.0)
    natural = 10.6 + 8.6 * calendar.season(238.0) + wander(seed, "reservoir", calendar, 0.35)
    return np.asarray(np.maximum(0.8, natural + 0.15 * day), dtype=np.float64)


def _bells(calendar: Calendar, days: tuple[str, ...], width_d: float) -> FloatArray:
    bells = [np.exp(-0.5 * (calendar.hours_since(day) / 24.0 / width_d) ** 2) for day in days]
    return np.asarray(sum(bells), dtype=np.float64)
