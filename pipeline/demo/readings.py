"""Readings: what the instruments make of the water, before anything breaks, and how it is rounded."""

import numpy as np

from pipeline.demo.calendar import Calendar, FloatArray
from pipeline.demo.noise import white
from pipeline.demo.service import natural_drift
from pipeline.demo.sheets import Sheets, Tag
from pipeline.demo.water import Signals

# Standard deviation of one reading: a share of it where the error is relative, else in the tag's unit.
GRAIN = {
    "flow": 0.006,
    "feed": 0.008,
    "turbidity": 0.020,
    "uv_intensity": 0.008,
    "ph": 0.008,
    "chlorine": 0.008,
    "temperature": 0.06,
    "level": 0.012,
    "head_loss": 0.02,
    "pressure": 0.25,
    "dissolved_oxygen": 0.04,
    "uv_transmittance": 0.15,
}
WELL_PROBE_FT = 0.12


def typical(water: FloatArray) -> float:
    """Return the usual value of a signal that may stand at zero for long."""
    awake = water[water > 0.0]
    return float(np.median(awake)) if len(awake) else 1.0


def healthy_readings(seed: int, calendar: Calendar, sheets: Sheets, water: Signals) -> Signals:
    """Return what healthy instruments show: the water, the drift since their service, and their grain."""
    readings = {tag.tag: water[tag.tag] for tag in sheets.tags.values() if not tag.instrument}
    for instrument in sheets.instruments.values():
        tag = instrument.tag
        true = water[tag.tag]
        error = natural_drift(seed, calendar, instrument, typical(true))
        sd = WELL_PROBE_FT if tag.area == "wells" and tag.measures == "level" else GRAIN[tag.measures]
        error = error + white(seed, tag.tag, calendar, sd)
        shown = true * (1.0 + error) if tag.relative else true + error
        readings[tag.tag] = np.clip(shown, tag.low, tag.high)
    return {tag: readings[tag] for tag in sheets.tags}


def in_export(tag: Tag, values: FloatArray) -> FloatArray:
    """Return readings as the export holds them: in its unit, rounded to its step.

    degF = 1.8 x degC + 32 (definition).
    """
    if tag.export_unit == "degF":
        values = 1.8 * values + 32.0
    return np.round(np.round(values / tag.export_step) * tag.export_step, tag.decimals)


def as_recorded(tag: Tag, values: FloatArray) -> FloatArray:
    """Return readings in the tag's own unit, with the export's rounding in them."""
    shown = in_export(tag, values)
    return (shown - 32.0) / 1.8 if tag.export_unit == "degF" else shown
