"""Errors: an instrument's deviation from a reference, value by value, with how much of it is chance.

What is known of the noise at a value comes from before that value, so that a day is judged the same
way whenever it is looked back upon.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import wraps

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.baseline.blocks import blocks_of
from pipeline.baseline.pairs import GRAB_SD, errors_of
from pipeline.baseline.scale import on_scale
from pipeline.baseline.season import expectation
from pipeline.case import Case
from pipeline.evidence.thresholds import curve, threshold
from pipeline.spc.prior import NOTHING_KNOWN, Prior
from pipeline.spc.robust import MAD_TO_SD, median

Floats = NDArray[np.float64]

QUARANTINE_DAYS = 56
"""The newest past is kept out of the baseline, or a drift that is under way would become the norm."""

HISTORY_DAYS = 730
LIMIT_BY_HISTORY = curve("limit_by_history")
"""History [days] and the EWMA limit [sigma of an EWMA of independent values] that one healthy sensor
in four crosses in a year. Measured on simulated sensors with the noise of treatment plants."""

GRAB_LIMIT = threshold("grab_limit")
"""The same for errors against weekly grabs."""

GRAB_INFLATION, OWN_INFLATION = threshold("grab_inflation"), threshold("own_inflation")
"""By how much intervals are widened to hold the truth as often as they say."""

PRIOR_PAIRS = 8
"""`GRAB_SD` weighs as much as so many pairs of the plant's own."""


BESIDE = Prior(ramps=0.15, bends=0.05, steps=0.05)
"""What an error beside a reference does: mostly the slow drift of a sound instrument, seldom a ramp or a
bend that begins some day, a step only at a service. Common practice, no source."""

ALONE = Prior(ramps=0.2, bends=0.0, steps=0.2)
"""Against its own past a step is as likely as a ramp: the water takes them."""


def day_numbers(table: pl.DataFrame) -> Floats:
    """Return the column ``day`` [days since 1970-01-01]."""
    return np.asarray(table["day"].to_physical().to_numpy(), np.float64)


@dataclass(frozen=True)
class Errors:
    """Errors against one reference.

    Parameters
    ----------
    reference : str
        ``lab grab``, ``twin instrument`` or ``own history``.
    day : (n,) array
        Days since 1970-01-01, ascending.
    error : (n,) array [working scale]
        Instrument minus reference; NaN where there is none.
    sigma, phi, limit : (n,) arrays
        Chance scatter [working scale], its memory from day to day, and the EWMA limit [sigma]; NaN
        where too little is known to judge.
    weight : float
        Share of the newest error in the EWMA.
    window_days : int
        Past that the size and rate are estimated from.
    inflation : float
        By how much the interval is widened for noise that is not as simple as assumed.
    prior : Prior
        How likely ramps and steps are against this reference.
    level_sd : (n,) array or None [sigma]
        How far the reference itself may be off by; None: as the prior has it.
    has_heavy_tails : bool
        Whether some of its values are far off for reasons of their own, as grabs are.
    """

    reference: str
    day: Floats
    error: Floats
    sigma: Floats
    phi: Floats
    limit: Floats
    weight: float
    window_days: int
    inflation: float
    prior: Prior = NOTHING_KNOWN
    level_sd: Floats | None = None
    has_heavy_tails: bool = False


def once(derive: Callable[[Case], Errors]) -> Callable[[Case], Errors]:
    """Derive the errors of a case once, whoever asks for them; they are not to be written to."""

    @wraps(derive)
    def kept(case: Case) -> Errors:
        return case.once(derive)

    return kept


@once
def against_grabs(case: Case) -> Errors:
    """Return the instrument's errors against its lab grabs."""
    error = errors_of(case.tag, case.pairs)
    known = np.isfinite(error)
    day, error = day_numbers(case.pairs)[known], error[known]
    sigma = _grab_sigma(case, error)
    n = len(day)
    return Errors(
        "lab grab",
        day,
        error,
        sigma,
        np.zeros(n),
        np.full(n, GRAB_LIMIT),
        0.3,
        112,
        GRAB_INFLATION,
        BESIDE,
        has_heavy_tails=True,
    )


def _grab_sigma(case: Case, error: Floats) -> Floats:
    """Scatter known before each pair: differences of neighbours, which a slow drift hardly moves."""
    prior = GRAB_SD.get(case.tag.measures, _third_of_tolerance(case))
    moved = np.abs(np.diff(error))
    sigma = np.full(len(error), prior)
    for i in range(3, len(error)):
        own = MAD_TO_SD * median(moved[: i - 1]) / np.sqrt(2)
        sigma[i] = (PRIOR_PAIRS * prior + (i - 1) * own) / (PRIOR_PAIRS + i - 1)
    return sigma


def _third_of_tolerance(case: Case) -> float:
    """Take the scatter of what no common practice is known for from the instrument's tolerance."""
    if case.pairs.height == 0:
        return float("nan")
    first = float(case.pairs["grab"][0])
    tolerance = case.tolerance_at(first)
    return on_scale(case.tag, tolerance, first) / 3.0 if tolerance else float("nan")


@once
def against_history(case: Case) -> Errors:
    """Return the daily value's departure from what the instrument's own past lets expect."""
    day = day_numbers(case.daily)
    value = case.daily["value"].to_numpy().astype(np.float64)
    error, sigma, phi, limit = (np.full(len(day), np.nan) for _ in range(4))
    for begin, here in blocks_of(day):
        until = begin - QUARANTINE_DAYS
        past = slice(*np.searchsorted(day, (until - HISTORY_DAYS, until)))
        norm = expectation(day[past], value[past])
        if norm is None or not norm.sd > 0:
            continue
        error[here] = value[here] - norm.at(day[here])
        sigma[here], phi[here] = norm.sd, norm.phi
        limit[here] = np.interp(norm.history_days, *np.transpose(LIMIT_BY_HISTORY))
    return Errors("own history", day, error, sigma, phi, limit, 0.1, 84, OWN_INFLATION, ALONE)
