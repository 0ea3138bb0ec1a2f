"""Grid: a slab of one time a line and one column a tag, read where it lies; only awkward cells become rows.

Most cells of a trend export are plain numbers. They are turned into numbers column by column and travel so;
what is anything else becomes RAW and goes the way of every other reading. Both ways lead to the same archive.
"""

from dataclasses import dataclass

import polars as pl

from pipeline.config.tags import Tag
from pipeline.ingest.channels import Channel

TIME = "\0time"
"""A name that no tag can have."""


@dataclass(frozen=True)
class Grid:
    """The cells of some lines, as text.

    Parameters
    ----------
    lines : DataFrame
        Columns `when` and `line`, one row a line.
    cells : DataFrame
        One text column for each name in the export; an empty cell was not recorded.
    """

    lines: pl.DataFrame
    cells: pl.DataFrame


@dataclass(frozen=True)
class Parted:
    """A grid, parted into plain numbers and the rest.

    Parameters
    ----------
    plain : DataFrame
        `TIME`, strictly increasing, and one column a tag; good readings, null where there is none.
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
    whole = bool(there.all())
    time = stamps["time"] if whole else stamps["time"].filter(there)
    if len(time) < 2 or not bool((time.diff().drop_nulls().to_physical() > 0).all()):
        return None
    plain, rest = [time.alias(TIME)], []
    every = grid.cells.select(pl.all().cast(pl.Float64, strict=False))
    # What is null here holds a null or a number that is none: all columns are asked at once.
    sound = every.select((pl.all().is_finite() & pl.all().is_not_null()).all()).row(0)
    for cells, number, is_sound, channel in zip(grid.cells, every, sound, channels, strict=True):
        numbers, awkward = _column(cells, number, bool(is_sound), channel, there, whole)
        if awkward is not None:
            rest.append(_raw(grid, cells, stamps, awkward))
        if numbers is not None and channel.tag is not None:
            plain.append(numbers.alias(channel.tag.tag))
    names = [series.name for series in plain]
    if len(set(names)) < len(names):
        return None
    return Parted(pl.DataFrame(plain), pl.concat(rest) if rest else _raw(grid, None, stamps, None))


def _column(
    cells: pl.Series, numbers: pl.Series, is_sound: bool, channel: Channel, there: pl.Series, whole: bool
) -> tuple[pl.Series | None, pl.Series | None]:
    """Return the plain numbers of one column, and which cells are neither plain nor empty (None = none)."""
    if channel.reason is not None or channel.converts or channel.tag is None:
        return None, cells != ""
    plain = _is_plain(numbers, is_sound, channel.tag)
    if plain is not None or not whole:
        plain = numbers.is_not_null() if plain is None else plain
        plain = plain if whole else plain & there
        numbers = numbers.set(~plain, None)
        awkward = ~plain & (cells != "")
        numbers = numbers if whole else numbers.filter(there)
        return numbers, awkward if awkward.any() else None
    return numbers, None


def _is_plain(numbers: pl.Series, is_sound: bool, tag: Tag) -> pl.Series | None:
    """Mark the numbers that stand for themselves; None where all do."""
    sentinel = numbers.is_in(list(tag.sentinels)).fill_null(False) if tag.sentinels else None
    if is_sound and not (sentinel is not None and sentinel.any()):
        return None
    plain = numbers.is_finite().fill_null(False)
    return plain & ~sentinel if sentinel is not None else plain


def _raw(grid: Grid, cells: pl.Series | None, stamps: pl.DataFrame, where: pl.Series | None) -> pl.DataFrame:
    lines = pl.concat([grid.lines, stamps], how="horizontal")
    value = pl.Series("value", [], pl.String) if cells is None else cells.alias("value")
    rows = lines.clear() if where is None else lines.filter(where)
    return rows.select(
        pl.lit(None if cells is None else cells.name, pl.String).alias("tag"),
        "when",
        value if where is None else value.filter(where),
        pl.lit(None, pl.String).alias("quality"),
        "line",
        "time",
        "time_reason",
    )
