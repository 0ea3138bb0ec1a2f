"""Feed pace: a controller that holds its own analyser hides the analyser's drift; its feed does not."""

from collections.abc import Mapping
from datetime import timedelta

import numpy as np
import polars as pl

from pipeline.case import Case, Relation
from pipeline.config.physics import FeedPace
from pipeline.facts import RELATION_DAYS
from pipeline.neighbours.daily import parties, recorded, tolerance
from pipeline.table import conform

QUARANTINE_DAYS, LEARN_DAYS = 56, 365
"""The newest past is left out of what is usual, or a drift under way would become the norm."""

FEWEST_DAYS = 14
HELD_SHARE = 0.5
"""Of the tolerance: a day counts as usual where the analyser showed, within that, what it shows now. At
another set-point the feed has reason to be another."""

SMALLEST_SHARE = 0.5


def feed_paces(cases: Mapping[str, Case], told: tuple[FeedPace, ...]) -> list[tuple[str, Relation]]:
    """Return the relation of an analyser to the feed per flow that its controller gives.

    ln(feed / flow), against days on which the analyser showed the same: an analyser that reads low is
    fed high, but so is water that uses up more. The sign is the one its error would have.
    """
    found: list[tuple[str, Relation]] = []
    for one in told:
        allowed = tolerance(cases[one.analyser])
        if allowed is None:
            continue
        level = cases[one.analyser].daily.select("day", "level").join(allowed, on="day")
        fed = _day(cases[one.feed], "feed").join(_day(cases[one.flow], "flow"), on="day")
        table = _against_usual(cases[one.analyser], fed.join(level, on="day").drop_nulls().sort("day"))
        table = table.with_columns(pl.lit(one.allowed_pct / 100.0).alias("allowed"))
        # Told of the analyser alone, which only grabs can clear.
        of_it = parties([cases[one.analyser]])
        reference = f"feed {one.feed} per flow {one.flow}"
        law = "its controller feeds until it reads right"
        found.append(
            (one.analyser, Relation(reference, conform(table, RELATION_DAYS), of_it, law, True, True))
        )
    return found


def _day(case: Case, name: str) -> pl.DataFrame:
    fewest = SMALLEST_SHARE * timedelta(days=1) / case.pace
    mean = (
        recorded(case, case.tag.unit)
        .group_by("day")
        .agg(pl.col("value").mean().alias(name), pl.len().alias("n"))
    )
    return mean.filter((pl.col("n") >= fewest) & (pl.col(name) > 0)).drop("n")


def _against_usual(analyser: Case, days: pl.DataFrame) -> pl.DataFrame:
    """``day, difference``: how much less is fed per flow than was for the same reading, ln."""
    number = days["day"].cast(pl.Int32).to_numpy()
    level, near = days["level"].to_numpy(), HELD_SHARE * days["allowance"].to_numpy()
    pace = np.log(days["feed"].to_numpy() / days["flow"].to_numpy())
    # The tolerance of a share-scaled tag is a share, and so is what it moved by.
    near = near * level if analyser.tag.is_log_scaled else near
    less = np.full(len(number), np.nan)
    for row in range(len(number)):
        past = slice(
            *np.searchsorted(number[:row], number[row] - [QUARANTINE_DAYS + LEARN_DAYS, QUARANTINE_DAYS])
        )
        alike = pace[past][np.abs(level[past] - level[row]) <= near[row]]
        if len(alike) >= FEWEST_DAYS:
            less[row] = np.median(alike) - pace[row]
    return days.select("day", pl.Series("difference", less)).filter(pl.col("difference").is_finite())
