"""Pairs: each lab grab beside what the instrument showed when it was taken."""

from collections.abc import Callable
from datetime import timedelta

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.baseline.scale import working
from pipeline.baseline.stuck import counted
from pipeline.config.tags import Tag
from pipeline.facts import PAIRS, STUCK
from pipeline.table import conform, empty

Floats = NDArray[np.float64]

GRAB_SD = {"ph": 0.05, "chlorine": 0.05, "turbidity": 0.10, "temperature": 0.2, "flow": 0.03}
"""Scatter of a grab about a sound instrument [working scale]; of anything else a third of the tolerance.
Common practice, no source."""

AROUND_A_GRAB = timedelta(hours=1)
STEADY_TOLERANCES = 3.0
"""Where the reading went through so many tolerances within an hour on either side, a grab is no witness: its
minute is not known so well. Common practice, no source."""

FROM_A_CHANGE = timedelta(minutes=20)
RUN_SHARE = 0.25
"""A grab so near a change of the state in which the reading counts (in a shorter run: nearer than this share
of it) may be of either state: its minute is not known so well. Common practice, no source."""

IN_PLACE = ("flow", "level", "pressure")
"""What is compared beside the instrument, at a minute that is known; no bottle is carried to the bench."""

READINGS_AROUND = 5
"""Median of so many readings stands for the instrument: the moment of a grab is not known to the minute."""


def pairs(
    readings: pl.DataFrame,
    grabs: pl.DataFrame,
    step: timedelta,
    days: pl.Expr,
    stuck: pl.DataFrame | None = None,
    tolerance: Callable[[float], float | None] | None = None,
    changes: pl.Series | None = None,
) -> pl.DataFrame:
    """Match grabs to the record.

    Parameters
    ----------
    readings : DataFrame of READINGS
    grabs : DataFrame
        ``time, value`` of this tag [unit of the tag].
    step : timedelta
        Nominal time between readings.
    days : polars expression
        Local date of the column ``time``.
    stuck : DataFrame of STUCK
        A frozen reading is paired until the day on which its run gave itself away.
    tolerance : callable, optional
        From a reading to its admissible error [unit of the tag]; without one every reading is steady.
    changes : Series of Datetime, optional
        When the state in which the reading counts was seen to begin or end, ascending.

    Returns
    -------
    DataFrame of PAIRS
        Grabs for which at least three of the five readings around them are usable. Only readings of
        the grab's own day count: a day must come out the same however much later it is looked at. Left out
        are those beside which the reading swung (`STEADY_TOLERANCES`), as in a basin whose air comes on, and
        those beside which its state changed (`FROM_A_CHANGE`).
    """
    if grabs.height == 0:
        return empty(PAIRS)
    usable = readings.filter(counted(readings, empty(STUCK) if stuck is None else stuck, days))
    if usable.height == 0:
        return empty(PAIRS)
    reach = step * READINGS_AROUND / 2
    taken = grabs.sort("time").select("time", pl.col("value").alias("grab"), days.alias("day"))
    shown = usable["time"]
    # Of two readings equally far the earlier one counts, or they would be six.
    low, high = (
        shown.search_sorted(taken["time"] + shift, "left").cast(pl.Int64).to_numpy()
        for shift in (-reach, reach)
    )
    count = high - low
    grab = np.repeat(np.arange(len(count)), count)
    near = np.arange(len(grab)) - np.repeat(np.cumsum(count) - count, count) + low[grab]
    at = usable[near].select(days.alias("at_day"), pl.col("value").alias("reading"))
    found = (
        pl.concat([taken[grab].with_columns(pl.Series("grab_row", grab)), at], how="horizontal")
        .filter(pl.col("at_day") == pl.col("day"))
        .group_by("grab_row", "time", "day", "grab")
        .agg(pl.col("reading").median(), pl.len().alias("n"))
        .filter(pl.col("n") >= (READINGS_AROUND + 1) // 2)
        .sort("grab_row")
    )
    if tolerance is not None and found.height:
        found = found.filter(_steady(found, usable, max(AROUND_A_GRAB, reach), days, tolerance))
    if changes is not None and found.height:
        found = found.filter(_within_a_run(found, changes, days))
    return conform(found, PAIRS)


def _within_a_run(found: pl.DataFrame, changes: pl.Series, days: pl.Expr) -> pl.Series:
    """Mark the grabs well within a run of their state, by what their own day knew of it."""
    at = changes.rename("time").to_frame().with_columns(days.alias("day"), pl.col("time").alias("change"))
    grabs = found.select("time", "day")
    before = grabs.join_asof(at.select("time", "change"), on="time").select("change").to_series()
    after = grabs.join_asof(at, on="time", by="day", strategy="forward", check_sortedness=False)
    near = grabs.select(
        since=pl.col("time") - before,
        left=after["change"] - pl.col("time"),
    )
    run = pl.sum_horizontal("since", "left")
    known = pl.col("since").is_not_null() & pl.col("left").is_not_null()
    least = pl.when(known).then(pl.min_horizontal(pl.lit(FROM_A_CHANGE), RUN_SHARE * run))
    enough = pl.min_horizontal("since", "left") >= least.fill_null(FROM_A_CHANGE)
    return near.select(enough.fill_null(True)).to_series()


def _steady(
    found: pl.DataFrame,
    usable: pl.DataFrame,
    around: timedelta,
    days: pl.Expr,
    tolerance: Callable[[float], float | None],
) -> pl.Series:
    """Mark the grabs near which the readings of their day, but a tenth at either end, kept close together."""
    allowed = np.array([np.inf if (most := tolerance(one)) is None else most for one in found["reading"]])
    allowed *= STEADY_TOLERANCES
    low = usable["time"].search_sorted(found["time"] - around, "left").to_numpy()
    high = usable["time"].search_sorted(found["time"] + around, "right").to_numpy()
    value = np.append(usable["value"].to_numpy(), np.nan)
    bounds = np.stack([low, high], axis=1).ravel()
    widest = (np.fmax.reduceat(value, bounds) - np.fmin.reduceat(value, bounds))[::2]
    steady = widest <= allowed
    for row in np.flatnonzero(~steady).tolist():
        here = usable[int(low[row]) : int(high[row])]
        near = np.sort(here.filter(here.select(days == found["day"][row]).to_series())["value"].to_numpy())
        edge = max(1, len(near) // 10)
        steady[row] = len(near) <= 2 * edge or near[-1 - edge] - near[edge] <= allowed[row]
    return pl.Series(steady)


def errors_of(tag: Tag, pairs: pl.DataFrame) -> Floats:
    """Return each reading less its grab [working scale]; NaN where either has no logarithm.

    Parameters
    ----------
    tag : Tag
    pairs : DataFrame of PAIRS
    """
    if pairs.height == 0:
        return np.empty(0)
    off = working(tag, pl.col("reading")) - working(tag, pl.col("grab"))
    return pairs.select(off).to_series().to_numpy().astype(np.float64)
