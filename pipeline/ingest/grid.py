"""Grid: a slab of one time a line and one column a tag, read where it lies; only awkward cells become rows.

Most cells of a trend export are plain numbers. They are turned into numbers column by column and travel so;
what is anything else becomes RAW and goes the way of every other reading. Both ways lead to the same archive.
"""

from collections.abc import Collection
from dataclasses import dataclass, replace

import numpy as np
import polars as pl

from pipeline.ingest.cells import Cut, Uncut
from pipeline.ingest.channels import Channel

TIME = "\0time"
"""A name that no tag can have."""


@dataclass(frozen=True)
class Grid:
    """The cells of some lines.

    Parameters
    ----------
    lines : DataFrame
        Columns `when` and `line`, one row a line.
    numbers : DataFrame
        One Float64 column for each name in the export, null where the cell holds no number.
    places : tuple of int
        Where each of them stands in `cells`.
    cells : Uncut or Cut
        What stands there; an empty cell was not recorded.
    """

    lines: pl.DataFrame
    numbers: pl.DataFrame
    places: tuple[int, ...]
    cells: Uncut | Cut

    def texts(self, columns: np.ndarray, rows: np.ndarray) -> pl.Series:
        """Return single cells as written, column after column."""
        return self.cells.texts(np.array(self.places)[columns], self.lines["line"].gather(pl.Series(rows)))

    def without(self, names: Collection[str]) -> "Grid":
        """Leave columns out."""
        both = zip(self.numbers.columns, self.places, strict=True)
        places = tuple(place for name, place in both if name not in names)
        return replace(self, numbers=self.numbers.drop(names), places=places)


@dataclass(frozen=True)
class Parted:
    """A grid, parted into plain numbers and the rest.

    Parameters
    ----------
    plain : DataFrame
        `TIME`, strictly increasing, and one column a tag; good readings, NaN where there is none.
    rest : DataFrame of RAW
        The other cells, with the columns of `stamps` for their lines.
    """

    plain: pl.DataFrame
    rest: pl.DataFrame


def parted(grid: Grid, stamps: pl.DataFrame, channels: list[Channel]) -> Parted | None:
    """Part a grid; None where it is better read row by row.

    Parameters
    ----------
    grid : Grid
    stamps : DataFrame
        ``time`` and ``time_reason`` of each line.
    channels : list of Channel
        What each column stands for.
    """
    there = stamps["time"].is_not_null()
    whole, known = bool(there.all()), there.to_numpy()
    time = stamps["time"] if whole else stamps["time"].filter(there)
    if len(time) < 2 or not bool((time.diff().drop_nulls().to_physical() > 0).all()):
        return None
    plain, odd = [time.alias(TIME)], []
    block = grid.numbers.to_numpy(order="fortran", writable=True)
    for values, channel in zip(block.T, channels, strict=True):
        keep = _plain(values, channel) & known
        odd.append(np.flatnonzero(~keep))
        if channel.tag is not None and len(odd[-1]) < len(keep):
            values[odd[-1]] = np.nan
            plain.append(pl.Series(channel.tag.tag, values if whole else values[known]))
    names = [series.name for series in plain]
    if len(set(names)) < len(names):
        return None
    return Parted(pl.DataFrame(plain), _raw(grid, stamps, odd))


def _plain(values: np.ndarray, channel: Channel) -> np.ndarray:
    """Mark the numbers of a column that stand for themselves: finite, and no sentinels."""
    if channel.reason is not None or channel.converts or channel.tag is None:
        return np.zeros(len(values), bool)
    plain: np.ndarray = np.isfinite(values)
    if channel.tag.sentinels:
        plain &= ~np.isin(values, channel.tag.sentinels)
    return plain


def _raw(grid: Grid, stamps: pl.DataFrame, odd: list[np.ndarray]) -> pl.DataFrame:
    """Return the cells in the rows `odd` of each column as RAW, without the empty ones."""
    column = np.repeat(np.arange(len(odd)), [len(rows) for rows in odd])
    row = np.concatenate(odd)
    names = pl.Series("tag", grid.numbers.columns, pl.String)
    cells = pl.DataFrame({"value": grid.texts(column, row), "column": column, "row": row})
    cells = cells.filter(pl.col("value") != "")
    lines = pl.concat([grid.lines, stamps], how="horizontal")[cells["row"]]
    return lines.select(
        names.gather(cells["column"]),
        "when",
        cells["value"],
        pl.lit(None, pl.String).alias("quality"),
        "line",
        "time",
        "time_reason",
    )
