"""Liveliness: stretches in which a signal jumps more, or less, from reading to reading than it used to.

The figure is the day's roughness (`pipeline.baseline.signal`). It sees scatter and lag, and hardly any
drift, season or daily rhythm. Another instrument scatters otherwise: what is usual is learned anew after a
replacement in the logbook.
"""

from math import exp, sqrt

import numpy as np
from numpy.typing import NDArray

from pipeline.baseline.apart import Bar, Spell, spells
from pipeline.baseline.signal import Signal, signal_of
from pipeline.baseline.stuck import LEARN_DAYS, MOST_REPEATS
from pipeline.case import Case
from pipeline.evidence.thresholds import threshold

Bools = NDArray[np.bool_]

MEASURES = (
    "ph", "chlorine", "turbidity", "dissolved_oxygen", "conductivity", "orp", "uv_transmittance",
    "uv_intensity", "temperature", "flow",
)  # fmt: skip
"""What scatters because of the instrument. A level or a pressure moves as pumps and valves do."""

CLIPPED = 0.877
"""Rms of a normal variable clipped three times at twice its mean absolute value (four million draws)."""

WINDOWS = (3, 7, 14)
NEWEST_DAYS = 3


def livelier(case: Case, times: float) -> list[Spell]:
    """Return the stretches with at least `times` the usual roughness, in its logs."""
    return _spells(case, float(np.log(times)), np.inf)


def duller(case: Case, times: float, newest_days: int = NEWEST_DAYS) -> list[Spell]:
    """Return the stretches with at most 1 / `times` of the usual roughness, in its logs.

    So many newest days must each bear it out.
    """
    return _spells(case, np.inf, float(np.log(times)), newest_days)


def _spells(case: Case, up: float, down: float, newest_days: int = NEWEST_DAYS) -> list[Spell]:
    signal = signal_of(case) if case.tag.measures in MEASURES else None
    if signal is None:
        return []
    bar = Bar(threshold("liveliness"), up, down, windows=WINDOWS, calm_window=0, newest_days=newest_days)
    services, replaced = case.serviced_on(), case.serviced_on(("replacement",))
    return spells(signal.day, signal.roughness, bar, services, judgeable(signal), replaced)


def scatter_of(roughness: float) -> float:
    """Scatter of single readings about a smooth course [working scale].

    A reading's distance from the middle of its neighbours scatters sqrt(1 + 1/4 + 1/4) times as much as the
    readings themselves, where these are independent, and the clip takes a share of it.
    """
    return exp(roughness) / (CLIPPED * sqrt(1.5))


def judgeable(signal: Signal) -> Bools:
    """Tell for each day whether the half year before it moved: a thinned record shows steps, not scatter."""
    known = np.isfinite(signal.repeats)
    total = np.append(0.0, np.where(known, signal.repeats, 0.0).cumsum())
    count = np.append(0, known.cumsum())
    last = np.arange(signal.days)
    first = np.maximum(last - LEARN_DAYS, 0)
    share = (total[last] - total[first]) / np.maximum(count[last] - count[first], 1)
    return np.asarray(share <= MOST_REPEATS)
