"""Level: where a tag has read of late, and what error is admissible there."""

from math import floor

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from pipeline.baseline.scale import on_scale
from pipeline.case import Case
from pipeline.epoch import day_number
from pipeline.evidence.errors import day_numbers
from pipeline.spc.robust import medians

Floats = NDArray[np.float64]

LEVEL_DAYS = 28


def level_on(case: Case, day: float = np.inf) -> float:
    """Return the median of the four weeks' daily levels up to a day; 1 where there is none [unit of the tag].

    Parameters
    ----------
    case : Case
    day : float
        Days since 1970-01-01; infinite: the newest.
    """
    if not case.daily.height:
        return 1.0
    first, levels = case.once(_leveled)
    at = floor(day - first) if np.isfinite(day) else case.daily.height - 1
    # Before the record begins no level is known; counted from its end it would be one of days to come.
    return float(levels[at]) or 1.0 if 0 <= at < len(levels) else 1.0


def level_since(case: Case, start: float, day: float = np.inf) -> float:
    """Return the median daily level from the day on which an error began up to a day [unit of the tag].

    An error that came at once has moved the level: what the tag read before says nothing of its size now.
    Of a longer stretch the last four weeks count; where no level is known in it, those before it.

    Parameters
    ----------
    case : Case
    start, day : float
        Days since 1970-01-01; infinite: the newest.
    """
    if not case.daily.height:
        return 1.0
    numbers = day_numbers(case.daily)
    day = min(day, float(numbers[-1]))
    within = (numbers >= max(start, day - LEVEL_DAYS + 1)) & (numbers <= day)
    known = case.daily["level"].to_numpy()[within]
    known = known[np.isfinite(known)]
    return (float(np.median(known)) or 1.0) if known.size else level_on(case, day)


def _leveled(case: Case) -> tuple[float, Floats]:
    """Return the first day and, day by day, the level of the four weeks up to each."""
    return day_number(case.daily["day"][0]), _levels(case.daily["level"].to_numpy())


def _levels(level: Floats) -> Floats:
    """Median of the four weeks up to each day, and to those that follow; 0 where none has a level."""
    none = np.full(LEVEL_DAYS - 1, np.nan)
    weeks = sliding_window_view(np.concatenate([none, level, none]), LEVEL_DAYS)
    return np.nan_to_num(medians(weeks.T))


def has_tolerance(case: Case) -> bool:
    """Whether an admissible error can be named: a share of the reading only where a day's level is known."""
    device = case.instrument
    allowed = case.tolerance_at(level_on(case))
    of_reading = case.tag.is_log_scaled or (device is not None and device.tolerance_pct is not None)
    return allowed is not None and (not of_reading or case.daily["level"].count() > 0)


def at_process(case: Case, day: float, reference: float) -> float:
    """Return how much of an error at a standard counts where the tag reads: as many tolerances as there.

    Parameters
    ----------
    case : Case
    day : float
        Days since 1970-01-01.
    reference : float [unit of the tag]
        What the standard is: air for oxygen, a check sample, a buffer.
    """
    allowed = case.tolerance_at(reference)
    there = on_scale(case.tag, allowed, reference) if allowed else 0.0
    here = tolerance_on(case, day)
    return here / there if there > 0 and np.isfinite(here) else 1.0


def tolerance_on(case: Case, day: float) -> float:
    """Return the admissible error on a day [working scale]; infinite where none is known."""
    level = level_on(case, day)
    allowed = case.tolerance_at(level)
    return on_scale(case.tag, allowed, level) if allowed is not None else np.inf
