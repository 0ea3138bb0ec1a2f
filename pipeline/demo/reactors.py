"""Reactors: three sequencing batch reactors in turn, and the digester that takes their sludge."""

import numpy as np

from pipeline.demo.calendar import Calendar, FloatArray
from pipeline.demo.filters import hours_since_true
from pipeline.demo.noise import lag, wander
from pipeline.demo.water import Signals

IDLE, FILL, REACT, SETTLE, DECANT = 0.0, 1.0, 2.0, 3.0, 4.0

# Minutes from the start of the 6-hour cycle at which each phase ends.
PHASES = ((FILL, 120), (REACT, 255), (SETTLE, 300), (DECANT, 345), (IDLE, 360))
CYCLE_MINUTES = 360
FILL_MINUTES = 120
DECANT_MINUTES = 45
BOTTOM_FT = 12.0
GAL_PER_FT = 27_000.0
OXYGEN_MG_L = 2.1


def cycle_minutes(calendar: Calendar, number: int) -> FloatArray:
    """Return where reactor `number` (1 to 3) stands in its cycle [min]; one always fills."""
    minutes = calendar.hours * 60.0 - (number - 1) * FILL_MINUTES
    return np.asarray(minutes % CYCLE_MINUTES, dtype=np.float64)


def phase_of(minutes: FloatArray) -> FloatArray:
    """Return the phase at each position in the cycle."""
    ends = [end for _, end in PHASES]
    return np.array([phase for phase, _ in PHASES])[np.searchsorted(ends, minutes, side="right")]


def batch_volume(calendar: Calendar, minutes: FloatArray, influent_mgd: FloatArray) -> FloatArray:
    """Return the volume that the batch in hand has received so far [gal].

    All of the influent goes to the filling reactor; the volume stays until the next batch begins.
    """
    arriving_gal = influent_mgd * 1e6 / 1440.0 * calendar.step_minutes * (minutes < FILL_MINUTES)
    total = np.concatenate([[0.0], np.cumsum(arriving_gal)])[:-1]
    begins = np.flatnonzero(np.diff(minutes, prepend=CYCLE_MINUTES) < 0)
    batch = np.searchsorted(begins, np.arange(len(calendar)), side="right") - 1
    start = np.where(batch >= 0, total[begins[np.maximum(batch, 0)]], 0.0)
    return np.asarray(total - start, dtype=np.float64)


def reactors(seed: int, calendar: Calendar, influent_mgd: FloatArray) -> Signals:
    """Return phases, levels and oxygen of the reactors, and the flow they decant (FIT-541) [MGD]."""
    signals: Signals = {}
    leaving = np.zeros(len(calendar))
    for number in (1, 2, 3):
        minutes = cycle_minutes(calendar, number)
        phase = phase_of(minutes)
        volume = batch_volume(calendar, minutes, influent_mgd)
        begun = np.clip((minutes - 300.0) / DECANT_MINUTES, 0.0, 1.0)
        signals[f"YS-51{number}"] = phase
        signals[f"LIT-51{number}"] = BOTTOM_FT + volume / GAL_PER_FT * (1.0 - begun)
        signals[f"AIT-51{number}"] = _oxygen(seed, calendar, number, phase)
        leaving += np.where(phase == DECANT, volume / DECANT_MINUTES * 1440.0 / 1e6, 0.0)
    return {**signals, "FIT-541": leaving, **_digester(seed, calendar)}


def _oxygen(seed: int, calendar: Calendar, number: int, phase: FloatArray) -> FloatArray:
    """Return dissolved oxygen [mg/L]: held near its target while blowers run, nearly nothing otherwise."""
    since_h = hours_since_true(calendar, phase == REACT)
    target = OXYGEN_MG_L + wander(seed, f"AIT-51{number}", calendar, 0.13)
    rising = target * (1.0 - np.exp(-(since_h * 60.0 + 4.0) / 7.0))
    left = np.abs(wander(seed, f"anoxic {number}", calendar, 0.05)) + 0.04
    return np.where(phase == REACT, rising, left)


def _digester(seed: int, calendar: Calendar) -> Signals:
    """Return level and temperature of the digester: fed every day, drawn down on Thursday mornings."""
    week_h = calendar.weekday * 24.0 + calendar.hour
    # Hours since Thursday 09:00; the draw-down takes three hours, the filling the rest of the week.
    since_h = (week_h - 81.0) % 168.0
    level = np.where(since_h < 3.0, 1.0 - since_h / 3.0, (since_h - 3.0) / 165.0)
    fed = 0.04 * np.clip((calendar.hour - 8.0) / 2.0, 0.0, 1.0)
    return {
        "LIT-521": 14.0 + 1.4 * level + fed + lag(wander(seed, "LIT-521", calendar, 0.10), 3.0, calendar),
        "TIT-521": 35.2
        + 0.5 * calendar.season(215.0)
        + lag(wander(seed, "TIT-521", calendar, 0.28), 8.0, calendar),
    }
