"""Undetected: a month's distribution samples, with and without a residual that could be told."""

from dataclasses import dataclass

import polars as pl

from pipeline.case import Case
from pipeline.clock import Period
from pipeline.config.limits import Limit
from pipeline.disinfection.residual import MOST_HPC_PER_ML, undetected_pct
from pipeline.record import Record
from pipeline.tally.averages import short_of


@dataclass(frozen=True)
class Month:
    """What a month's samples came to.

    Parameters
    ----------
    pct : float or None
        Share without a detectable residual [%]; None without any sample.
    samples, without : int
        How many there were, and how many of them without.
    coverage_pct : float
        Samples of those the limit asks for [%].
    lacks : str
        What they lack to be judged; empty where they are enough.
    """

    pct: float | None
    samples: int
    without: int
    coverage_pct: float
    lacks: str = ""


def undetected(record: Record, limit: Limit, month: Period) -> Month:
    """Return a month's samples, each with the bacteria counted at the same time, where any were."""
    residual = _samples(record.case, month).rename({"value": "residual", "below": "is_below"})
    bacteria = _samples(record.second.case, month) if record.second else residual.clear().select("time")
    if record.second is None:
        bacteria = bacteria.with_columns(value=pl.lit(None, pl.Float64), below=pl.lit(None, pl.Boolean))
    every = residual.join(bacteria, on="time", how="full", coalesce=True)
    measured = pl.col("residual").is_not_null()
    absent = measured & (pl.col("is_below") | (pl.col("residual") < (limit.low or 0.0)))
    counted, many = pl.col("value").is_not_null(), pl.col("value") > MOST_HPC_PER_ML
    a, b, c, d, e = every.select(
        (part.fill_null(False).sum())
        for part in (
            measured.alias("a"),
            (~measured & counted).alias("b"),
            (absent & ~counted).alias("c"),
            (absent & many).alias("d"),
            (~measured & many).alias("e"),
        )
    ).row(0)
    pct = undetected_pct(a, b, c, d, e)
    covered = min(100.0, 100.0 * (a + b) / limit.at_least)
    return Month(pct, a + b, c + d + e, covered, short_of(a + b, limit, "sample"))


def _samples(case: Case, month: Period) -> pl.DataFrame:
    here = (pl.col("time") >= month.start) & (pl.col("time") < month.end)
    return case.samples.filter(here).select("time", "value", "below")
