"""Effluent: the UV channel and what leaves the plant."""

import numpy as np

from pipeline.demo.calendar import Calendar, FloatArray
from pipeline.demo.noise import lag, wander
from pipeline.demo.shapes import bend
from pipeline.demo.water import Signals
from pipeline.demo.weather import Weather

LAMP_LIFE_H = 12_000.0


def banks(calendar: Calendar, influent_mgd: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return which UV bank burns: they take weekly turns from Monday 10:00, and both burn in a storm."""
    local_h = calendar.wall.astype("datetime64[s]").astype(np.float64) / 3600.0
    week = np.floor((local_h - 4.0 * 24.0 - 10.0) / 168.0)
    odd = week % 2 == 1
    storm = lag(influent_mgd, 6.0, calendar) > 0.85
    return (odd | storm).astype(np.float64), (~odd | storm).astype(np.float64)


def effluent(seed: int, calendar: Calendar, weather: Weather, influent_mgd: FloatArray) -> Signals:
    """Return UV transmittance, both banks, and pH, temperature and turbidity at the outfall."""
    dilute = lag(weather.runoff, 5.0, calendar)
    transmittance = 67.5 + 1.0 * calendar.season(215.0) - 5.0 * dilute
    transmittance = bend("AIT-531", calendar, transmittance + wander(seed, "AIT-531", calendar, 1.1))
    first, second = banks(calendar, influent_mgd)
    cloudy = 3.2 * np.exp(wander(seed, "AIT-542", calendar, 0.15)) * (1.0 + 0.8 * dilute)
    sewage_c = 15.2 + 4.2 * calendar.season(228.0) - 1.5 * dilute
    return {
        "AIT-531": transmittance,
        "YS-532": first,
        "YS-533": second,
        "AIT-532": _intensity(seed, calendar, 1, first, transmittance),
        "AIT-533": _intensity(seed, calendar, 2, second, transmittance),
        "AIT-541": 7.08 - 0.08 * dilute + wander(seed, "AIT-541", calendar, 0.055),
        "TIT-541": sewage_c + wander(seed, "TIT-541", calendar, 0.40),
        "AIT-542": cloudy,
    }


def _intensity(
    seed: int, calendar: Calendar, bank: int, on: FloatArray, transmittance: FloatArray
) -> FloatArray:
    """Return the intensity of a bank [mW/cm2]: falls with the water's transmittance and the lamps' age."""
    burnt_h = np.cumsum(on) * calendar.step_minutes / 60.0
    age = 1.0 - 0.25 * burnt_h / LAMP_LIFE_H
    steady = 12.4 * (transmittance / 67.0) ** 1.8 * age
    return on * steady * np.exp(wander(seed, f"bank {bank}", calendar, 0.015))
