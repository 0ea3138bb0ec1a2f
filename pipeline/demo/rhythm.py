"""Rhythm: how a town of five thousand uses water through the day, the week and the year."""

import numpy as np

from pipeline.demo.calendar import Calendar, FloatArray
from pipeline.demo.noise import lag, wander
from pipeline.demo.weather import Weather

TOWN_MGD = 0.60
WATERING_MGD = 0.42
SEWAGE_MGD = 0.43

# Share of the daily mean at each hour, 00 to 23; mornings and evenings peak (common practice).
WEEKDAY = (
    0.48, 0.40, 0.37, 0.38, 0.50, 0.85, 1.45, 1.72, 1.50, 1.20, 1.05, 1.02,
    1.02, 0.97, 0.93, 0.95, 1.05, 1.25, 1.42, 1.45, 1.32, 1.10, 0.85, 0.64,
)  # fmt: skip
WEEKEND = (
    0.55, 0.45, 0.40, 0.38, 0.42, 0.55, 0.85, 1.25, 1.55, 1.60, 1.45, 1.30,
    1.20, 1.10, 1.05, 1.02, 1.08, 1.20, 1.32, 1.35, 1.25, 1.08, 0.85, 0.67,
)  # fmt: skip
WATERING = (
    0.9, 0.9, 1.0, 1.4, 2.0, 2.3, 2.0, 1.4, 1.0, 0.7, 0.5, 0.4,
    0.4, 0.4, 0.4, 0.4, 0.5, 0.7, 1.1, 1.5, 1.6, 1.4, 1.1, 1.0,
)  # fmt: skip

# Days on which the town fills with guests: share added to the demand.
HOLIDAYS = {
    "2025-11-27": 0.12,
    "2025-12-25": 0.10,
    "2026-05-25": 0.08,
    "2026-07-04": 0.22,
    "2026-09-07": 0.08,
}


def of_the_day(calendar: Calendar, curve: tuple[float, ...]) -> FloatArray:
    """Read a 24-hour curve at every instant, smoothly and round the clock."""
    hours = np.arange(25.0)
    return np.interp((calendar.hour - 0.5) % 24.0, hours, (*curve, curve[0]))


def household(calendar: Calendar) -> FloatArray:
    """Return indoor use as a share of its daily mean."""
    weekend = calendar.weekday >= 5
    return np.where(weekend, of_the_day(calendar, WEEKEND), of_the_day(calendar, WEEKDAY))


def holiday(calendar: Calendar) -> FloatArray:
    """Return what holidays add to the demand, as a share."""
    days = calendar.wall.astype("datetime64[D]")
    added = np.zeros(len(calendar))
    for day, share in HOLIDAYS.items():
        added[days == np.datetime64(day)] = share
    return lag(added, 1.5, calendar)


def water_demand(seed: int, calendar: Calendar, weather: Weather) -> FloatArray:
    """Return the town's demand [MGD].

    Indoor use with its morning and evening peaks, watering in the warm months that stops when
    it rains, holidays, and a few per cent that nobody can explain.
    """
    warm = np.clip((calendar.season(205.0) + 0.15) / 1.15, 0.0, 1.0) ** 1.4
    rained = np.clip(lag(weather.rain_in_h, 30.0, calendar) * 25.0, 0.0, 0.7)
    watering = WATERING_MGD * warm * (1.0 - rained) * of_the_day(calendar, WATERING)
    indoor = TOWN_MGD * household(calendar) * (1.0 + holiday(calendar))
    noise = np.exp(wander(seed, "demand", calendar, 0.04))
    return np.asarray((indoor + watering) * noise, dtype=np.float64)


def sewage(seed: int, calendar: Calendar) -> FloatArray:
    """Return what the households send to the sewers [MGD], about an hour after they use it."""
    used = SEWAGE_MGD * household(calendar) * (1.0 + 0.6 * holiday(calendar))
    return lag(used * np.exp(wander(seed, "sewage", calendar, 0.04)), 1.0, calendar)
