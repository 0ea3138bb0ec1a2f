"""Chlorine: fed in proportion to flow, not trimmed on the analyser, used up on the way to the far zone."""

import numpy as np

from pipeline.demo.calendar import Calendar, FloatArray
from pipeline.demo.filters import hours_since_true
from pipeline.demo.noise import lag, wander
from pipeline.demo.script import CONTACT_MINUTES, DOSE_RAISE_MG_L, DOSE_RAISED
from pipeline.demo.shapes import bend, feed_share
from pipeline.demo.water import Signals
from pipeline.demo.weather import Weather

TARGET_MG_L = 0.81
POUNDS_PER_GALLON = 0.0667
"""Chlorine in a gallon of 0.8 % hypochlorite [lb/gal]: 8.34 x 0.008."""


def clearwell(seed: int, calendar: Calendar, weather: Weather, flow_mgd: FloatArray) -> Signals:
    """Return chlorine, pH and temperature of the finished water, and the hypochlorite feed.

    feed [gph] = flow [MGD] x dose [mg/L] x 8.34 / (24 x strength [lb/gal]), the handbook's pounds formula.
    """
    raised = DOSE_RAISE_MG_L * (calendar.hours_since(DOSE_RAISED) >= 0.0)
    target = TARGET_MG_L + lag(np.asarray(raised, dtype=np.float64), 4.0, calendar)
    used = 0.55 + 0.25 * (weather.water_c / 20.0)
    dose = (target + used) * feed_share(calendar, CONTACT_MINUTES)
    residual = target - 0.025 * weather.runoff + wander(seed, "entry chlorine", calendar, 0.046)
    feed = flow_mgd * dose * 8.34 / (24.0 * POUNDS_PER_GALLON)
    return {
        "AIT-131": bend("AIT-131", calendar, residual),
        "FIT-132": feed * (1.0 + wander(seed, "hypochlorite", calendar, 0.015)),
        "AIT-132": 7.20 + wander(seed, "finished pH", calendar, 0.055),
        "TIT-131": 0.3 + lag(weather.water_c, 8.0, calendar),
    }


def wells(seed: int, calendar: Calendar, well: Signals) -> Signals:
    """Return the chlorine at the wells' common header; it fades while the pumps rest."""
    second = well["YS-202"] > well["YS-201"]
    pumping = (well["YS-201"] + well["YS-202"]) > 0
    fresh = 0.76 - 0.03 * second + wander(seed, "AIT-201", calendar, 0.032)
    resting_h = hours_since_true(calendar, ~pumping)
    return {"AIT-201": np.where(pumping, fresh, 0.70 * np.exp(-resting_h / 18.0))}


def far_zone(seed: int, calendar: Calendar, weather: Weather, entry_mg_l: FloatArray) -> Signals:
    """Return the chlorine of the far zone: two days old, and older in the small hours."""
    aged = lag(entry_mg_l, 48.0, calendar)
    kept = 0.68 - 0.22 * weather.water_c / 20.0
    night = np.cos(2.0 * np.pi * (calendar.hour - 4.0) / 24.0)
    return {"AIT-301": aged * kept - 0.012 * night + wander(seed, "AIT-301", calendar, 0.024)}
