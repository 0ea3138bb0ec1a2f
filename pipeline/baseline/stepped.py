"""Stepped: a tag recorded on change, read off at regular steps, as a tag recorded at intervals is.

What changes is written down more often while the water moves. Read off step by step, a value weighs as long
as it stood, a grab finds the reading that stood beside it, and a value that stands still can be counted.
"""

from datetime import timedelta

import numpy as np
import polars as pl

from pipeline.config.tags import Tag
from pipeline.epoch import MICROSECOND

LONGEST = timedelta(days=1)
"""Without a heartbeat, which tells a steady tag from a dead one, a value is taken to stand no longer. Common
practice, no source."""


def is_stepped(tag: Tag) -> bool:
    """Whether a tag's record is read off at steps before it is judged."""
    return tag.recording == "on change" and not tag.is_state


def stepped(tag: Tag, samples: pl.DataFrame) -> pl.DataFrame:
    """Return what stood at every step from the first reading to the last.

    Parameters
    ----------
    tag : Tag
        Its pace, and how long its values stand.
    samples : DataFrame of ``time, value, good``
        Ascending.

    Returns
    -------
    DataFrame of ``time, value, good``
        Whole multiples of the pace since 1970; steps at which nothing stood are left out. What stood at a
        step follows from the readings up to it alone.
    """
    if samples.height == 0:
        return samples
    pace, hold = tag.pace // MICROSECOND, min(tag.hold, LONGEST) // MICROSECOND
    time = samples["time"].dt.epoch("us").to_numpy()
    steps = np.arange(-(-time[0] // pace), time[-1] // pace + 1) * pace
    last = np.searchsorted(time, steps, side="right") - 1
    stands = steps - time[last] <= hold
    when = pl.Series("time", steps[stands]).cast(samples.schema["time"])
    there = pl.Series(last[stands])
    return samples.select("value", "good").select(when, pl.all().gather(there))
