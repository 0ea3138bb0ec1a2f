"""Twins: what an instrument shows less what its twin in the same water shows, one value a day."""

import polars as pl

from pipeline.baseline.daily import fewest_of_a_day
from pipeline.baseline.scale import working
from pipeline.baseline.stuck import counted
from pipeline.case import Case
from pipeline.clock import to_local
from pipeline.facts import TWIN_DAYS
from pipeline.table import conform, empty


def beside_twin(case: Case, twin: Case) -> pl.DataFrame:
    """Return each day's median difference of simultaneous readings.

    Readings at the same moment: the water's own course, and the hour of the day with it, falls out.

    Parameters
    ----------
    case, twin : Case
        Of one unit; where the units differ there is nothing to compare.

    Returns
    -------
    DataFrame of TWIN_DAYS
        The days on which an eighth of the readings have a twin, ascending. A frozen reading counts
        until the day on which its run gave itself away.
    """
    if case.tag.unit != twin.tag.unit or case.tag.is_state:
        return empty(TWIN_DAYS)
    both = _shown(case, "own").join(_shown(twin, "other"), on="time", how="inner", maintain_order="left")
    day = to_local(pl.col("time"), case.zone).dt.date().alias("day")
    off = pl.col("own") - pl.col("other")
    fewest = fewest_of_a_day(case.pace)
    days = both.group_by(day).agg(off.median().alias("difference"), pl.len().alias("readings"))
    return conform(days.filter(pl.col("readings") >= fewest).sort("day"), TWIN_DAYS)


def _shown(case: Case, name: str) -> pl.DataFrame:
    local_day = to_local(pl.col("time"), case.zone).dt.date()
    counts = case.regular.filter(counted(case.regular, case.stuck, local_day))
    return counts.select("time", working(case.tag, pl.col("value")).alias(name)).drop_nulls()
