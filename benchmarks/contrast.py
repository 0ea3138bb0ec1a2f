"""Contrast: how far a tag has moved from the last two hours, in what such moves usually come to.

Small moves of many tags at one time are an event where each alone is none; so the tags are added up by the
root of their squares. Everything is causal: the score of a moment rests on that moment and earlier ones.
"""

from collections.abc import Mapping
from datetime import timedelta

import polars as pl

NOW = timedelta(minutes=5)
"""Whose median is what is seen now: one wild reading is outvoted, and an event is seen within minutes."""

BEFORE = timedelta(hours=2)
"""What it is compared with. Longer, and the daily course looks like an event; shorter, and a slow
one is taken for the level."""

MEMORY = timedelta(days=7)
"""Past that usual moves are learned from: a working week and its weekend."""

FEWEST_MEMORY = timedelta(days=1)
"""Before so much is known nothing is said: one round of the day."""

USUAL = 0.9
"""Quantile of past moves that counts as usual: events are rarer than one moment in ten."""

FEWEST_NOW, FEWEST_BEFORE = 3, 8
"""Readings that both windows span at the least where the record is coarse."""

LIMIT = 6.0
"""Joint score of an event [usual moves]: the next whole number above 5.6, which is what the quiet days of an
open record reach (outlet of a drinking-water works, seven tags a minute, the ten days before its first
labelled event that have a day of memory behind them)."""


def contrast(value: pl.Expr, resolution: float, step: timedelta) -> pl.Expr:
    """Return how far a tag stands from where it stood, in its own usual moves; signed.

    ``z = (median of NOW - mean of BEFORE) / max(q90 of |numerator| over MEMORY, resolution / 2)``

    The mean, for a median of rounded readings moves by whole steps of the instrument; half a resolution
    below, for so much is rounding alone.

    Parameters
    ----------
    value : polars expression
        Floats on a regular step, null where nothing usable was recorded.
    resolution : float
        Smallest step of the readings [their unit]; 0 where it is not known.
    step : timedelta
        From one row to the next.

    Returns
    -------
    polars expression
        Null while less than `FEWEST_MEMORY` is known, and where a window is mostly empty.
    """
    now, before = max(NOW // step, FEWEST_NOW), max(BEFORE // step, FEWEST_BEFORE)
    known = value.fill_nan(None)
    level = known.rolling_median(now, min_samples=now // 2 + 1)
    past = known.rolling_mean(before, min_samples=before // 4).shift(now)
    move = level - past
    usual = move.abs().rolling_quantile(
        USUAL, interpolation="linear", window_size=MEMORY // step, min_samples=FEWEST_MEMORY // step
    )
    floor = pl.max_horizontal(usual, pl.lit(resolution / 2.0))
    return pl.when(usual.is_not_null() & (floor > 0)).then(move / floor)


def contrasts(grid: pl.DataFrame, resolutions: Mapping[str, float], step: timedelta) -> pl.DataFrame:
    """Return the contrast of every tag.

    Parameters
    ----------
    grid : DataFrame of ``time`` and one column a tag
        On a regular step, ascending.
    resolutions : mapping of str to float
        Of the tags to look at [their units].
    step : timedelta

    Returns
    -------
    DataFrame of ``time`` and one column a tag
        Signed [usual moves].
    """
    moves = [contrast(pl.col(tag), size, step).alias(tag) for tag, size in resolutions.items()]
    return grid.select("time", *moves)


def joint(moves: pl.DataFrame) -> pl.Series:
    """Return the root of the summed squares over the tags; null where none is known."""
    tags = [pl.col(name) for name in moves.columns if name != "time"]
    total = pl.sum_horizontal(tag.pow(2) for tag in tags).sqrt()
    known = pl.any_horizontal(tag.is_not_null() for tag in tags)
    return moves.select(pl.when(known).then(total).alias("score"))["score"]


def alarms(
    time: pl.Series, score: pl.Series, limit: float = LIMIT, apart: timedelta = timedelta(hours=1)
) -> pl.DataFrame:
    """Return the stretches above a limit, those less than `apart` from one another as one.

    Returns
    -------
    DataFrame of ``start, end, peak, peak_at``
        From the first to the last row above the limit.
    """
    over = pl.DataFrame({"time": time, "score": score}).filter(pl.col("score") > limit)
    parted = (pl.col("time") - pl.col("time").shift(1) > apart).fill_null(True).cum_sum()
    return (
        over.with_columns(parted.alias("spell"))
        .group_by("spell", maintain_order=True)
        .agg(
            pl.col("time").first().alias("start"),
            pl.col("time").last().alias("end"),
            pl.col("score").max().alias("peak"),
            pl.col("time").get(pl.col("score").arg_max()).alias("peak_at"),
        )
        .drop("spell")
    )
