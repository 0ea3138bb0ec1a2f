"""Doubts: what the exports as a whole make us ask, besides what is asked of each tag."""

from collections.abc import Sequence
from datetime import timedelta

import polars as pl

from pipeline.ingest.qualities import read_qualities
from pipeline.setup.guess import share

FEWEST_GOOD = 0.5
"""With fewer good readings than that the quality column is perhaps not understood: judgement, no source."""
LONGEST_PAUSE = timedelta(days=5 * 366)
"""What lies so long before all else was written by a clock that had lost its time: judgement, no source."""
MOST_LOST = 0.01
_SHOWN = 3


def doubts(qualities: Sequence[pl.Series], walls: pl.Series) -> list[str]:
    """Return questions about the quality column and about stamps long before all others.

    Parameters
    ----------
    qualities : sequence of Series of str
        The quality of every reading as written, an export at a time.
    walls : Series of Datetime
        The times of all lines.
    """
    found = [_of_quality(texts.cast(pl.String)) for texts in qualities]
    return [*dict.fromkeys(filter(None, [*found, _of_time(walls.drop_nulls().sort())]))]


def _of_quality(texts: pl.Series) -> str:
    said = texts.filter(texts.str.strip_chars().fill_null("") != "")
    if said.is_empty():
        return ""
    counts = said.value_counts(sort=True).sort("count", said.name, descending=[True, False])
    read = read_qualities(counts[said.name])
    unknown = counts.filter(read["quality_reason"].is_not_null())[said.name]
    if len(unknown):
        shown = ", ".join(map(repr, unknown[:_SHOWN]))
        return f"quality: {shown}: no word and no code that we know; these readings will be refused"
    good_counts = counts.filter((read["quality"] == "good").fill_null(False))["count"].to_list()
    good = sum(good_counts)
    if share(good, len(said)) >= FEWEST_GOOD:
        return ""
    shown = ", ".join(map(repr, counts[said.name][:_SHOWN]))
    remedy = "set quality_codes, or export without it, if that is wrong"
    return f"quality: {good} of {len(said)} readings are good as we read {shown}; {remedy}"


def _of_time(walls: pl.Series) -> str:
    pauses = walls.diff()
    longest = pauses.max()
    if not isinstance(longest, timedelta) or longest < LONGEST_PAUSE:
        return ""
    first = pauses.arg_max() or 0
    if share(first, len(walls)) > MOST_LOST and first > 1:
        return ""
    remedy = f"write not_before = {walls[first]:%Y-%m-%d} if there was no plant"
    return f"{first} times long before the others, such as {walls[0]}; {remedy}"
