"""Curves: a tag's record as it is drawn, what counts, what does not, and what is of uncertain quality."""

from datetime import datetime, timedelta

import polars as pl

from pipeline.case import Case
from pipeline.report.picture import Curve, broken

UNCERTAIN = "uncertain quality: told only where outside"


def recorded(
    case: Case,
    readings: pl.DataFrame,
    start: datetime,
    end: datetime,
    pace: timedelta,
    factor: float = 1.0,
    offset: float = 0.0,
) -> list[Curve]:
    """Return the usable readings as a line, good ones that do not count as dots, uncertain ones as rings.

    Parameters
    ----------
    readings : DataFrame of READINGS
        Those of the case that the line is drawn from: as recorded, or at every step.
    start, end : datetime
        The window [UTC].
    pace : timedelta
        Readings further apart are not joined.
    factor, offset : float
        From the tag's unit to the chart's.
    """
    here = pl.col("time").is_between(start, end, closed="left")
    drawn = pl.col("value") * factor + offset
    rows = readings.filter(here).select("time", drawn, "good", "usable")
    used = rows.filter("usable").select("time", "value").rows()
    spare = rows.filter(pl.col("good") & ~pl.col("usable")).select("time", "value").rows()
    marked = here & pl.col("time").is_in(case.uncertain.implode())
    doubtful = case.readings.filter(marked).select("time", drawn).drop_nulls().rows()
    found = []
    if used:
        found.append(Curve("readings", tuple(broken(used, pace))))
    if spare:
        found.append(Curve("recorded, not counted", tuple(spare), "aside", dots=True))
    if doubtful:
        found.append(Curve(UNCERTAIN, tuple(doubtful), "uncertain", dots=True))
    return found
