"""Thinned: a record whose readings mostly repeat the one before says nothing by a repeat.

Recorders hold the last value until it leaves a deadband, and write it at every step, or write nothing at
all. Either way a reading that stands still is no sign of a stuck instrument.
"""

import polars as pl

from pipeline.baseline.stuck import LEARN_DAYS, MOST_REPEATS
from pipeline.case import Case

FEWEST_READINGS = 500
"""A share of fewer is no share (15-minute readings of five days)."""


def repeat_share(values: pl.Series) -> float:
    """Return the share of values equal to the one before; 0 for fewer than two."""
    known = values.drop_nulls()
    if len(known) < 2:
        return 0.0
    return float((known.diff().drop_nulls() == 0).mean())  # type: ignore[arg-type]


def is_thinned(case: Case) -> bool:
    """Whether a tag recorded at intervals repeats itself too often for a stuck reading to be told.

    Judged over the half year before `Case.as_of`, of the readings that count, as `stuck_runs` does.
    """
    if case.tag.is_state or case.tag.recording == "on change":
        return False
    since = pl.lit(case.as_of) - pl.duration(days=LEARN_DAYS)
    values = case.readings.filter((pl.col("time") >= since) & pl.col("good") & pl.col("in_state"))["value"]
    return len(values) >= FEWEST_READINGS and repeat_share(values) > MOST_REPEATS
