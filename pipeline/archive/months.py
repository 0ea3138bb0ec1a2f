"""Months: the newest delivery stands, what it displaced is kept, and every incoming row is counted once."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import timedelta

import polars as pl
import pyarrow as pa

from pipeline.archive.parquet import long_of
from pipeline.table import LONG, Schema, conform, empty

SUPERSEDED: Schema = {**LONG, "displaced_by": pl.String()}
"""A row that no longer stands, with the source of the row that took its place."""

TALLY: Schema = {
    "source": pl.String(),
    "stored": pl.UInt32(),
    "known": pl.UInt32(),
    "superseded": pl.UInt32(),
}
"""How many of a delivery's rows were new, already known, or took the place of another."""


@dataclass(frozen=True)
class Tally:
    """What became of a delivery's rows: new, already known, or in the place of another."""

    stored: int = 0
    known: int = 0
    superseded: int = 0

    def __add__(self, other: "Tally") -> "Tally":
        return Tally(self.stored + other.stored, self.known + other.known, self.superseded + other.superseded)


@dataclass(frozen=True)
class MergedTag:
    """One tag's month after a merge: as Merged, with the tallies by source."""

    month: pl.DataFrame
    superseded: pl.DataFrame
    tally: dict[str, Tally]


_KEY = ("tag", "time")
_CONTENT = ("value", "quality", "raw")


@dataclass(frozen=True)
class Merged:
    """One month of one area after a merge.

    Parameters
    ----------
    month : DataFrame of LONG
        What stands, sorted by tag and time; one row each.
    superseded : DataFrame of SUPERSEDED
        What was displaced, in the order in which it stood.
    tally : DataFrame of TALLY
        One row a source of the incoming rows, sorted by source.
    """

    month: pl.DataFrame
    superseded: pl.DataFrame
    tally: pl.DataFrame


def merge(stored: pl.DataFrame, incoming: pl.DataFrame) -> Merged:
    """Merge deliveries into what stands.

    A tag and time that is not there yet is stored. The same value, quality and raw text as what stands
    is known. Anything else takes the place of what stands, whichever delivery that came from, even an
    earlier line of the same file.

    Parameters
    ----------
    stored : DataFrame of LONG
        One row a tag and time.
    incoming : DataFrame of LONG
        In the order of delivery.
    """
    rows = _in_order(pl.concat([stored.with_columns(new=False), incoming.with_columns(new=True)]))
    first = _changes(_KEY)
    rows = rows.with_columns(first=first, change=first | _changes(_CONTENT))
    tally = _tally(rows.filter("new"))
    standing = rows.filter("change").with_columns(displaced_by=pl.col("source").shift(-1))
    last = pl.col("first").shift(-1, fill_value=True)
    return Merged(
        standing.filter(last).select(*LONG),
        standing.filter(~last).select(*SUPERSEDED),
        tally,
    )


def merge_tag(stored: pa.Table | None, incoming: pl.DataFrame) -> MergedTag:
    """Merge deliveries into one tag's month; what lies before them is left as it is.

    Parameters
    ----------
    stored : Table or None
        The tag's group as it stands.
    incoming : DataFrame
        `packed`, with `source`, in the order of delivery.
    """
    if not incoming["time"].is_sorted():
        incoming = incoming.sort("time", maintain_order=True)
    time = incoming["time"]
    earlier, later = (empty(LONG), empty(LONG)) if stored is None else _parted(long_of(stored), time)
    if later.is_empty() and (time.diff() > timedelta()).all():
        counts = incoming["source"].value_counts().iter_rows()
        month = incoming.select(*LONG)
        month = month if stored is None else pl.concat([earlier, conform(month, LONG)])
        return MergedTag(month, empty(SUPERSEDED), {source: Tally(stored=count) for source, count in counts})
    merged = merge(later, conform(incoming, LONG))
    tally = {source: Tally(*counts) for source, *counts in merged.tally.iter_rows()}
    return MergedTag(pl.concat([earlier, merged.month]), merged.superseded, tally)


def _parted(stored: pl.DataFrame, coming: pl.Series) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Return the rows before the first of the times that come in, and the others."""
    at = stored["time"].search_sorted(coming[0], side="left")
    return stored[:at], stored[at:]


def yielding(
    stored: pa.Table | None, incoming: pl.DataFrame, later: Mapping[str, Collection[str]]
) -> tuple[pl.DataFrame, dict[str, Tally]]:
    """Leave out what a file read once more says of an instant that a later delivery has spoken of since.

    Parameters
    ----------
    stored : Table or None
        The tag's group as it stands.
    incoming : DataFrame
        `packed`, with `source`.
    later : mapping of str to collection of str
        For each source that is read once more: the deliveries that came after its first reading.

    Returns
    -------
    rest : DataFrame
        The other rows.
    tally : dict of str to Tally
        Those left out, by source: known, for what took their place is in the archive.
    """
    if stored is None or not later:
        return incoming, {}
    standing = long_of(stored).select("time", pl.col("source").alias("standing"))
    source = pl.col("source").cast(pl.String)
    rows = incoming.with_row_index("row").filter(source.is_in(list(later))).join(standing, on="time")
    pairs = [(again, newer) for again, newers in later.items() for newer in newers]
    beaten = pl.DataFrame(pairs, {"source": pl.String, "standing": pl.String}, orient="row")
    found = rows.with_columns(source).join(beaten, on=["source", "standing"], how="semi")
    tally = {name: Tally(known=count) for name, count in found["source"].value_counts().iter_rows()}
    rest = incoming.with_row_index("row").join(found, on="row", how="anti", maintain_order="left").drop("row")
    return rest, tally


def take_back(month: pl.DataFrame, superseded: pl.DataFrame, sources: set[str]) -> pl.DataFrame:
    """Undo deliveries that were never finished.

    Parameters
    ----------
    month : DataFrame of LONG
        What stands, with or without rows of the unfinished deliveries.
    superseded : DataFrame of SUPERSEDED
        What they displaced in this month; may hold rows that still stand.
    sources : set of str
        The unfinished deliveries.

    Returns
    -------
    DataFrame of LONG
        What stood before them.
    """
    unfinished = pl.col("source").is_in(sorted(sources))
    kept = month.filter(~unfinished)
    restored = superseded.filter(~unfinished).select(*LONG).join(kept, on=list(_KEY), how="anti")
    return _in_order(pl.concat([kept, restored]))


def _changes(columns: tuple[str, ...]) -> pl.Expr:
    """Whether a row differs from the row above it in any of `columns`."""
    differs = [pl.col(name).ne_missing(pl.col(name).shift(1)) for name in columns]
    return pl.any_horizontal(differs) | (pl.int_range(pl.len()) == 0)


def _in_order(rows: pl.DataFrame) -> pl.DataFrame:
    """Sort by tag and time, rows of one tag and time in the order they came.

    One whole number for both sorts several times faster than two columns: the tag's rank, times as many
    microseconds as the rows span, and the microsecond within that span.
    """
    if rows.is_empty():
        return rows
    if (rows["tag"] == rows["tag"][0]).all():
        return rows.sort("time", maintain_order=True)
    tags = rows["tag"].unique().sort()
    time = rows["time"].to_physical()
    since = time - time.min()
    span = int(since.max()) + 1  # type: ignore[arg-type]
    if len(tags) * span >= 2**63:
        return rows.sort("time", maintain_order=True).sort("tag", maintain_order=True)
    rank = rows["tag"].cast(pl.Enum(tags)).to_physical().cast(pl.Int64)
    key = (rank * span + since).alias("key")
    if key.is_sorted():
        return rows
    return rows.with_columns(key).sort("key", maintain_order=True).drop("key")


def _tally(rows: pl.DataFrame) -> pl.DataFrame:
    count = rows.group_by("source").agg(
        stored=pl.col("first").sum(),
        known=(~pl.col("change")).sum(),
        superseded=(pl.col("change") & ~pl.col("first")).sum(),
    )
    return count.select(pl.col(name).cast(dtype) for name, dtype in TALLY.items()).sort("source")
