"""Seasonal: trend and daily course by STL, for drawing what a tag usually does.

Robust STL (Cleveland et al. 1990) as statsmodels has it answers one missing value with nothing but missing
values and says nothing. So short gaps are bridged in a straight line before the decomposition and
taken out again after it, and a longer gap splits the record: each piece is decomposed alone, and a
piece of less than two periods has no decomposition.
"""

from datetime import timedelta

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.baseline.rolling import rolling_mad_sd
from pipeline.table import TIME, Schema, empty

Floats = NDArray[np.float64]

PERIOD_HOURS = 24
LONGEST_BRIDGE_HOURS = 6
_WEEK_HOURS = 168

COURSE: Schema = {"time": TIME, "expected": pl.Float64(), "scale": pl.Float64()}


def decompose(value: Floats, period: int, longest_bridge: int) -> tuple[Floats, Floats]:
    """Return trend and seasonal course.

    Parameters
    ----------
    value : (n,) array [any unit]
        On a regular step; NaN = missing.
    period, longest_bridge : int [steps]
        Length of a season; longest run of missing values that is bridged.

    Returns
    -------
    trend, seasonal : (n,) arrays
        NaN where `value` is missing, and in pieces shorter than two periods.
    """
    trend, seasonal = np.full(len(value), np.nan), np.full(len(value), np.nan)
    for begin, end in _pieces(np.isfinite(value), longest_bridge):
        if end - begin >= 2 * period:
            piece = _stl(_bridged(value[begin:end]), period)
            trend[begin:end], seasonal[begin:end] = piece
    missing = ~np.isfinite(value)
    trend[missing] = seasonal[missing] = np.nan
    return trend, seasonal


def _pieces(known: NDArray[np.bool_], longest_bridge: int) -> list[tuple[int, int]]:
    """Stretches (begin, end) that start and end with a known value and hold no long gap."""
    at = np.flatnonzero(known)
    if at.size == 0:
        return []
    cut = np.flatnonzero(np.diff(at) > longest_bridge + 1)
    begins, ends = np.append(at[0], at[cut + 1]), np.append(at[cut], at[-1]) + 1
    return [(int(begin), int(end)) for begin, end in zip(begins, ends, strict=True)]


def _bridged(value: Floats) -> Floats:
    known = np.flatnonzero(np.isfinite(value))
    return np.interp(np.arange(len(value)), known, value[known])


def _stl(value: Floats, period: int) -> tuple[Floats, Floats]:
    from statsmodels.tsa.seasonal import STL

    # A trend window of a week keeps the working week out of the trend; the jumps cost nothing visible.
    jump = max(period // 6, 1)
    model = STL(
        value,
        period=period,
        seasonal=13,
        trend=7 * period + 1 - (7 * period) % 2,
        robust=True,
        seasonal_jump=jump,
        trend_jump=jump,
        low_pass_jump=jump,
    )
    fit = model.fit(inner_iter=2, outer_iter=3)
    return np.asarray(fit.trend, np.float64), np.asarray(fit.seasonal, np.float64)


def usual_course(readings: pl.DataFrame) -> pl.DataFrame:
    """Hour by hour, what a tag usually does about now and how far it usually strays.

    Parameters
    ----------
    readings : DataFrame of READINGS
        A few weeks.

    Returns
    -------
    DataFrame of COURSE
        ``time`` (hour), ``expected`` = trend + daily course, ``scale`` = robust sd of the hourly
        medians about it over a week; null where it cannot be told.
    """
    usable = readings.filter("usable")
    if usable.height == 0:
        return empty(COURSE)
    hourly = usable.group_by_dynamic("time", every="1h").agg(pl.col("value").median())
    grid = hourly.upsample("time", every="1h")
    value = grid["value"].to_numpy().astype(np.float64)
    trend, seasonal = decompose(value, PERIOD_HOURS, LONGEST_BRIDGE_HOURS)
    course = grid.with_columns(pl.Series("expected", trend + seasonal, nan_to_null=True))
    stray = rolling_mad_sd(pl.col("value") - pl.col("expected"), _WEEK_HOURS, PERIOD_HOURS)
    return course.select("time", "expected", stray.alias("scale"))


LOOK_BACK = timedelta(weeks=8)
"""Record that `usual_course` is given: long enough for a trend, short enough to be of this season."""
