"""Water: from the reservoir to the top of the filters."""

import numpy as np

from pipeline.demo.calendar import Calendar, FloatArray
from pipeline.demo.noise import lag, wander
from pipeline.demo.weather import Weather

Signals = dict[str, FloatArray]
"""True values by tag, each over the whole calendar, in the tag's unit."""


def raw_water(seed: int, calendar: Calendar, weather: Weather) -> Signals:
    """Return reservoir level, raw turbidity, pH and temperature.

    Turbidity: 2 to 8 NTU with storms to about 60; snow melt and turnover add a little. pH follows the
    algae of summer afternoons and falls with rain.
    """
    storm = lag(weather.runoff, 9.0, calendar)
    calm = 3.4 + 0.5 * calendar.season(170.0) + 2.2 * weather.melt + 1.8 * weather.turnover
    algae = np.clip(calendar.season(215.0), 0.0, 1.0)
    afternoon = np.cos(2.0 * np.pi * (calendar.hour - 16.5) / 24.0)
    ph = 7.55 + 0.14 * calendar.season(215.0) + (0.02 + 0.05 * algae) * afternoon
    return {
        "LIT-101": _reservoir(seed, calendar, weather),
        "AIT-101": calm * np.exp(wander(seed, "raw turbidity", calendar, 0.15)) + 75.0 * storm,
        "AIT-102": ph - 0.10 * storm - 0.06 * weather.turnover + wander(seed, "raw pH", calendar, 0.055),
        "TIT-101": weather.water_c,
    }


def _reservoir(seed: int, calendar: Calendar, weather: Weather) -> FloatArray:
    filled = 44.0 + 6.0 * calendar.season(170.0)
    return filled + 0.5 * lag(weather.wetness, 60.0, calendar) + wander(seed, "LIT-101", calendar, 0.12)


def settled_water(seed: int, calendar: Calendar, raw: Signals) -> Signals:
    """Return the settled turbidity of both trains.

    Operators feed more coagulant when the raw water is cloudy, so settled turbidity rises only with
    about the cube root of raw turbidity; the trains share their weather but not their noise.
    """
    cloudy = lag(raw["AIT-101"] / 3.0, 3.0, calendar)
    settled = 0.78 * cloudy**0.38 * np.exp(wander(seed, "settling", calendar, 0.09))
    return {
        "AIT-111": settled * np.exp(wander(seed, "train 1", calendar, 0.07)),
        "AIT-112": 1.12 * settled * np.exp(wander(seed, "train 2", calendar, 0.07)),
    }


def coagulant(seed: int, calendar: Calendar, raw_ntu: FloatArray, raw_mgd: FloatArray) -> Signals:
    """Return the coagulant feed [gph], paced by flow [MGD] and raised with raw turbidity [NTU]."""
    dose = (raw_ntu / 3.0) ** 0.35 * np.exp(wander(seed, "coagulant", calendar, 0.03))
    return {"FIT-111": 2.9 * raw_mgd / 0.65 * dose}
