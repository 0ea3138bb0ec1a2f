"""Faults: what the script breaks, done to the readings; one short function a kind."""

from collections.abc import Callable

import numpy as np

from pipeline.demo.calendar import Calendar, FloatArray
from pipeline.demo.noise import lag, stream
from pipeline.demo.script import FAULTS, Fault
from pipeline.demo.sheets import Sheets
from pipeline.demo.water import Signals


def scripted(calendar: Calendar) -> list[Fault]:
    """Return the faults that begin inside the record."""
    return [fault for fault in FAULTS if calendar.covers(fault.start)]


def break_readings(seed: int, calendar: Calendar, sheets: Sheets, healthy: Signals) -> Signals:
    """Return the readings with every scripted fault in them; NaN = nothing was recorded."""
    readings = dict(healthy)
    for fault in scripted(calendar):
        for name in fault.tags:
            if fault.kind == "copied":
                values = readings["AIT-111"]
            else:
                values = _KINDS[fault.kind](seed, calendar, fault, readings[name])
            part = calendar.window(fault.start, fault.end)
            broken = readings[name].copy()
            broken[part] = values[part]
            tag = sheets.tags[name]
            if fault.kind not in ("out_of_range", "gap"):
                broken = np.clip(broken, tag.low, tag.high)
            readings[name] = broken
    return readings


def drift_error(calendar: Calendar, fault: Fault) -> FloatArray:
    """Return the error of a drift: 0 at its start, `size` at its end, bent if it fouls."""
    since_h = calendar.hours_since(fault.start)
    length_h = since_h - calendar.hours_since(fault.end)
    return np.asarray(fault.size * np.clip(since_h / length_h, 0.0, 1.0) ** fault.bend)


def _drift(seed: int, calendar: Calendar, fault: Fault, values: FloatArray) -> FloatArray:
    error = drift_error(calendar, fault)
    return values * (1.0 + error) if fault.relative else values + error


def _step(seed: int, calendar: Calendar, fault: Fault, values: FloatArray) -> FloatArray:
    return values + fault.size


def _frozen(seed: int, calendar: Calendar, fault: Fault, values: FloatArray) -> FloatArray:
    return np.full(len(calendar), values[calendar.index(fault.start)])


def _noisy(seed: int, calendar: Calendar, fault: Fault, values: FloatArray) -> FloatArray:
    shocks = stream(seed, f"fault {fault.name}").standard_normal(len(calendar))
    return values + fault.size * shocks


def _damped(seed: int, calendar: Calendar, fault: Fault, values: FloatArray) -> FloatArray:
    return lag(values, fault.size, calendar)


def _spikes(seed: int, calendar: Calendar, fault: Fault, values: FloatArray) -> FloatArray:
    """Add single-reading spikes, about eight a day, never two within an hour."""
    source = stream(seed, f"fault {fault.name}")
    every = calendar.steps(3.0)
    spiked = values.copy()
    for block in range(0, len(calendar) - every, every):
        at = block + int(source.randint(0, max(1, every - calendar.steps(1.0))))
        spiked[at] += fault.size * source.uniform(0.7, 1.3)
    return spiked


def _shown(seed: int, calendar: Calendar, fault: Fault, values: FloatArray) -> FloatArray:
    return np.full(len(calendar), fault.size)


def _gap(seed: int, calendar: Calendar, fault: Fault, values: FloatArray) -> FloatArray:
    """Record nothing, or the placeholder that the controller writes instead."""
    return np.full(len(calendar), fault.size if fault.size else np.nan)


_KINDS: dict[str, Callable[[int, Calendar, Fault, FloatArray], FloatArray]] = {
    "drift": _drift,
    "step": _step,
    "frozen": _frozen,
    "noisy": _noisy,
    "damped": _damped,
    "spikes": _spikes,
    "pegged": _shown,
    "out_of_range": _shown,
    "gap": _gap,
}
