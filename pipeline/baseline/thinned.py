"""Thinned: a record whose readings mostly repeat the one before says nothing by a repeat.

Recorders hold the last value until it leaves a deadband, and write it at every step, or write nothing at
all. Either way a reading that stands still is no sign of a stuck instrument.
"""

from datetime import datetime, timedelta

import numpy as np
import polars as pl

from pipeline.baseline.stuck import LEARN_DAYS, MOST_REPEATS
from pipeline.config.tags import Tag

FEWEST_READINGS = 500
"""A share of fewer is no share (15-minute readings of five days)."""


def repeat_share(values: pl.Series) -> float:
    """Return the share of values equal to the one before; 0 for fewer than two."""
    known = values.drop_nulls().to_numpy()
    return float(np.mean(known[1:] == known[:-1])) if len(known) > 1 else 0.0


def is_thinned(tag: Tag, readings: pl.DataFrame, as_of: datetime) -> bool:
    """Whether a tag recorded at intervals repeats itself too often for a stuck reading to be told.

    Parameters
    ----------
    tag : Tag
    readings : DataFrame
        ``time, value, sound``: sound = good and in a state in which it should move.
    as_of : datetime
        Judged over the half year before it, as `pipeline.baseline.stuck` learns [UTC].
    """
    if tag.is_state or tag.recording == "on change":
        return False
    recent = readings[readings["time"].search_sorted(as_of - timedelta(days=LEARN_DAYS)) :]
    values = recent["value"].filter(recent["sound"])
    return len(values) >= FEWEST_READINGS and repeat_share(values) > MOST_REPEATS
