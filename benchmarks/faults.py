"""Faults: what can be wrong with an instrument, in sizes from hardly to plainly, done to its readings.

Two sorts: those that put an error on the reading (drift, fouling, step), which a service takes away again,
and those of the recording (stuck, damped, noisier, spikes, pegged, gap, out of range, scale, resolution,
clock, copied).
"""

from dataclasses import dataclass

import numpy as np

from benchmarks.families import STEPS_A_DAY, Floats, Measure, shown_as

ERROR_KINDS = ("drift", "fouling", "step")
RECORD_KINDS = (
    "stuck", "damped", "noisier", "spikes", "pegged", "gap", "out_of_range", "scale", "resolution", "clock",
    "copied",
)  # fmt: skip
KINDS = (*ERROR_KINDS, *RECORD_KINDS, "twin")
SHIFT = "shift"
"""No fault: the water itself moves for good, by so many of its day-to-day sd."""

SIZES = {
    "drift": (1.0, 2.5, 5.0),  # times the measure's slow rate, a week
    "fouling": (1.0, 2.5, 5.0),  # the same as a mean rate over 56 days, growing with the square of time
    "step": (1.5, 2.0, 3.0),  # tolerances
    "stuck": (6.0, 12.0, 24.0, 72.0),  # hours
    "damped": (0.5, 1.0, 3.0),  # hours of a first-order lag
    "noisier": (1.0, 2.5, 6.0),  # more of its own scatter
    "spikes": (8.0, 16.0, 30.0),  # of its own scatter
    "pegged": (0.9, 0.7),  # quantile of the readings at which it is cut off
    "gap": (4.0, 24.0, 96.0),  # hours
    "out_of_range": (2.0, 12.0),  # hours
    "scale": (1.3, 3.785, 0.1),  # factor
    "resolution": (5.0, 10.0, 20.0),  # times coarser
    "clock": (1.0, -1.0, 2.0),  # hours late
    "copied": (0.0,),
    "twin": (1.0, 2.5, 5.0),  # the other one drifts: times the slow rate, a week
}
"""Grid of sizes by kind."""

FOUND_BY = {
    "drift": ("drift", "step", "disagrees"),
    "fouling": ("drift", "step", "disagrees"),
    "step": ("step", "drift", "disagrees"),
    "stuck": ("frozen",),
    "damped": ("damped",),
    "noisier": ("noisy",),
    "spikes": ("spikes",),
    "pegged": ("pegged", "frozen"),
    "gap": ("gap",),
    "out_of_range": ("out_of_range",),
    "scale": ("rescaled", "pegged", "out_of_range", "step", "drift", "disagrees"),
    "resolution": ("coarser",),
    "clock": ("clock_shift",),
    "copied": ("copied", "disagrees"),
    "twin": ("disagrees",),
}
"""Kinds of finding that name a fault."""


@dataclass(frozen=True)
class Fault:
    """One fault.

    Parameters
    ----------
    kind : str
    begin, end : int
        First row, and row after the last.
    size : float
        As in `SIZES`.
    """

    kind: str
    begin: int
    end: int
    size: float


def accrued(fault: Fault, measure: Measure, row: Floats, clean_since: Floats) -> Floats:
    """Error [working scale] that a fault has put on by each row, since the service that last took it away."""
    begin = np.maximum(clean_since, fault.begin)
    weeks = np.clip(row - begin, 0.0, None) / (7.0 * STEPS_A_DAY)
    active = (row >= fault.begin) & (row < fault.end)
    if fault.kind == "step":
        return np.where(active & (clean_since <= fault.begin), fault.size * measure.tolerance, 0.0)
    rate = fault.size * measure.slow_rate
    if fault.kind == "fouling":
        return np.where(active, rate * weeks**2 / 8.0, 0.0)
    return np.where(active, rate * weeks, 0.0)


def broken_record(
    random: np.random.Generator, fault: Fault, measure: Measure, working: Floats, other: Floats
) -> Floats:
    """Return the readings [unit] with a fault of the recording in them.

    Parameters
    ----------
    random : Generator
    fault : Fault
    measure : Measure
    working : (n,) array [working scale]
        What a sound recording would hold.
    other : (n,) array [unit]
        Another tag of the same train, for copies.
    """
    part = slice(fault.begin, fault.end)
    shown = shown_as(measure, working)
    here = shown[part]
    if fault.kind == "copied":
        here = other[part].copy()
    elif fault.kind == "clock":
        here = np.roll(shown, round(fault.size * 4))[part]
    else:
        here = _AMOUNTS[fault.kind](random, fault, measure, working[part], here)
    shown = shown.copy()
    shown[part] = here
    return shown


def _stuck(_: np.random.Generator, __: Fault, measure: Measure, ___: Floats, here: Floats) -> Floats:
    return np.full(len(here), here[0])


def _damped(_: np.random.Generator, fault: Fault, measure: Measure, working: Floats, __: Floats) -> Floats:
    from scipy.signal import lfilter

    share = 1.0 - np.exp(-1.0 / (4.0 * fault.size))
    return shown_as(
        measure, np.asarray(lfilter([share], [1.0, share - 1.0], working - working[0])) + working[0]
    )


def _noisier(
    random: np.random.Generator, fault: Fault, measure: Measure, working: Floats, _: Floats
) -> Floats:
    return shown_as(
        measure, working + fault.size * 1.5 * measure.fast_sd * random.standard_normal(len(working))
    )


def _spikes(
    random: np.random.Generator, fault: Fault, measure: Measure, working: Floats, _: Floats
) -> Floats:
    """About two a day, of one reading each, up or down."""
    hit = random.random(len(working)) < 2.0 / STEPS_A_DAY
    sign = random.choice([-1.0, 1.0], len(working))
    return shown_as(measure, working + hit * sign * fault.size * 1.5 * measure.fast_sd)


def _pegged(_: np.random.Generator, fault: Fault, __: Measure, ___: Floats, here: Floats) -> Floats:
    return np.minimum(here, np.quantile(here, fault.size))


def _gap(_: np.random.Generator, __: Fault, ___: Measure, ____: Floats, here: Floats) -> Floats:
    return np.full(len(here), np.nan)


def _beyond(_: np.random.Generator, __: Fault, measure: Measure, ___: Floats, here: Floats) -> Floats:
    return np.full(len(here), measure.high * 1.05)


def _scale(_: np.random.Generator, fault: Fault, __: Measure, ___: Floats, here: Floats) -> Floats:
    return here * fault.size


def _resolution(_: np.random.Generator, fault: Fault, measure: Measure, __: Floats, here: Floats) -> Floats:
    coarse = measure.resolution * fault.size
    return np.round(here / coarse) * coarse


_AMOUNTS = {
    "stuck": _stuck,
    "damped": _damped,
    "noisier": _noisier,
    "spikes": _spikes,
    "pegged": _pegged,
    "gap": _gap,
    "out_of_range": _beyond,
    "scale": _scale,
    "resolution": _resolution,
}
