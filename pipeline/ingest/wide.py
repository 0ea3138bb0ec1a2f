"""Wide: lines with a column a tag become one row a reading, tag after tag."""

from collections import Counter

import numpy as np
import polars as pl

from pipeline.ingest.cells import Cut, Uncut
from pipeline.ingest.clocks import when_of
from pipeline.ingest.columns import Column, columns_of, flagged, says_good_or_bad
from pipeline.ingest.furniture import read_numbers, without_furniture
from pipeline.ingest.grid import Grid
from pipeline.ingest.head import Head
from pipeline.ingest.qualities import FLAGS, NO, YES
from pipeline.ingest.refusal import REFUSED, refuse
from pipeline.ingest.sheet import Sheet
from pipeline.ingest.vocabulary import (
    QUALITY_NAMES,
    TAG_NAMES,
    TEXT_VALUE_NAMES,
    UNIT_NAMES,
    VALUE_NAMES,
    without_brackets,
)
from pipeline.table import RAW, empty

WHEN, LINE = "\0when", "\0line"
"""Names that no tag can have."""


def read_columns(
    sheet: Sheet, names: tuple[str, ...], units: tuple[str, ...]
) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Return RAW, tag after tag, and REFUSED, of a sheet whose columns are `names`.

    A column without a name, or with one that stands twice, is refused with its readings; one that only
    numbers the lines holds none.
    """
    cells, broken = sheet.rows()
    cells, summary = without_furniture(cells, sheet)
    columns = columns_of(sheet.head, names, units)
    columns = tuple(column for column in columns if not _numbers_lines(column, sheet.head, cells))
    cells = cells.with_columns(when_of(sheet.head).alias(WHEN)).rename({"line": LINE})
    counts = Counter(column.name for column in columns)
    sound = [column for column in columns if column.name and counts[column.name] == 1]
    doubtful = [column for column in columns if column not in sound]
    refused = [broken, summary, *(_doubt(_readings(cells, [column]), column.name) for column in doubtful)]
    return _readings(cells, sound), pl.concat(refused).sort("line", maintain_order=True)


def grid_of(sheet: Sheet, names: tuple[str, ...]) -> tuple[Grid, pl.DataFrame] | None:
    """Return the cells of a sheet with columns `names`, and REFUSED; None where they are no plain grid."""
    columns = columns_of(sheet.head, names, ("",) * len(names))
    may_number = [column for column in columns if not column.name and _is_before(column, sheet.head)]
    sound = [column for column in columns if column not in may_number]
    called_twice = len({column.name for column in sound}) < len(sound)
    if called_twice or not all(column.name and column.quality is None for column in sound):
        return None
    places = tuple(column.place for column in sound)
    frame, refused, cells = read_numbers(sheet, places)
    if not all(_numbers_lines(column, sheet.head, frame) for column in may_number):
        return None
    lines = frame.select(when_of(sheet.head).alias("when"), "line")
    numbers = frame.select(pl.col(f"c{column.place}").alias(column.name) for column in sound)
    if _has_empty_lines(numbers, lines["line"], cells, sound):
        return None  # a line without readings has no say in what its time means
    return Grid(lines, numbers, places, cells), refused


def _has_empty_lines(
    numbers: pl.DataFrame, line: pl.Series, cells: Uncut | Cut, columns: list[Column]
) -> bool:
    """Whether a line may hold nothing but its time."""
    if numbers.is_empty() or any(not column.has_nulls() for column in numbers):
        return False
    suspects = numbers.to_series(0).is_null()
    empty_there = numbers.filter(suspects).select(pl.all_horizontal(pl.all().is_null())).to_series()
    without = line.filter(suspects).filter(empty_there)
    if without.is_empty():
        return False
    readings = pl.col([f"c{column.place}" for column in columns])
    return not cells.whole(without).select(pl.any_horizontal(readings != "")).to_series().all()


def _is_before(column: Column, head: Head) -> bool:
    return column.place < head.when_columns[0]


def _numbers_lines(column: Column, head: Head, cells: pl.DataFrame) -> bool:
    """Whether a column without a name, left of the time, does nothing but count the lines one by one."""
    if column.name or not _is_before(column, head):
        return False
    numbers = cells[f"c{column.place}"].cast(pl.Int64, strict=False)
    if numbers.null_count() > 0:
        return False
    if len(numbers) == 1:  # counted from 1 or from 0 under one line of header
        return int(cells["line"][0]) - int(numbers[0]) in (1, 2)
    return bool((numbers.diff().drop_nulls() == 1).all())


def unit_of(head: Head, value: int) -> list[pl.Expr]:
    """Return the column `unit` of lines with one value: a column of the file, or what stands above it."""
    column = head.column(UNIT_NAMES)
    if column is not None:
        return [pl.col(f"c{column}").alias("unit")]
    said = without_brackets(head.header[value])[1] or head.told(UNIT_NAMES)
    return [pl.lit(said).alias("unit")] if said else []


def quality_of(head: Head) -> pl.Expr:
    """Return the quality of lines with one value: words or codes, or what a column of yes and no says."""
    column = head.column(QUALITY_NAMES)
    column = _worded(head) if column is None else column
    flags = [(head.names.index(name), *meant) for name, meant in FLAGS.items() if name in head.names]
    flags = [flag for flag in flags if {text.lower() for text in head.texts(flag[0])} <= YES | NO]
    is_flag = column in {place for place, _, _ in flags}
    said = pl.lit(None, pl.String) if column is None or is_flag else pl.col(f"c{column}")
    words = [flagged(pl.col(f"c{place}"), yes, no) for place, yes, no in flags]
    doubts = [pl.when(~word.is_in(["good", ""])).then(word) for word in words]
    return pl.coalesce(*doubts, said, *words).alias("quality")


def _worded(head: Head) -> int | None:
    """Return the column beside a value that holds words of quality alone, whatever it is called."""
    named = TAG_NAMES | VALUE_NAMES | TEXT_VALUE_NAMES | UNIT_NAMES
    others = [place for place, name in enumerate(head.names) if name not in named]
    return next((place for place in others if says_good_or_bad(head, place)), None)


def value_of(head: Head, place: int) -> pl.Expr:
    """Return the value of lines with one: where it is blank, the words of a column beside it."""
    value, words = pl.col(f"c{place}"), head.column(TEXT_VALUE_NAMES)
    if words is None:
        return value.alias("value")
    return pl.when(value == "").then(pl.col(f"c{words}")).otherwise(value).alias("value")


def _readings(cells: pl.DataFrame, columns: list[Column]) -> pl.DataFrame:
    """Turn every filled cell into a row of RAW, column after column."""
    if not columns:
        return empty(RAW)
    places = [f"c{column.place}" for column in columns]
    rows = cells.unpivot(places, index=[WHEN, LINE], variable_name="place", value_name="value")
    # A tag's name as a number: millions of rows share a few names.
    number = np.repeat(np.arange(len(columns), dtype=np.uint32), cells.height)
    raw = rows.select(
        pl.Series("tag", number).cat.to(pl.Enum([column.name for column in columns])),
        pl.col(WHEN).alias("when"),
        "value",
        _quality(cells, columns),
        pl.col(LINE).alias("line"),
        *_unit(columns, number),
    )
    # A quality without a value is a reading without a number.
    filled = (raw["value"] != "") | (raw["quality"] != "").fill_null(False)
    return raw if filled.all() else raw.filter(filled)


def _quality(cells: pl.DataFrame, columns: list[Column]) -> pl.Expr | pl.Series:
    if all(column.quality is None for column in columns):
        return pl.lit(None, pl.String).alias("quality")
    none = pl.Series([None], dtype=pl.String).new_from_index(0, cells.height)
    each = [none if column.quality is None else _said(cells, column) for column in columns]
    return pl.concat([series.alias("quality") for series in each])


def _said(cells: pl.DataFrame, column: Column) -> pl.Series:
    """Return the quality of one tag as written; yes and no as the words that they stand for."""
    cell = pl.col(f"c{column.quality}")
    return cells.select(flagged(cell, *column.flag) if column.flag else cell).to_series()


def _unit(columns: list[Column], number: np.ndarray) -> list[pl.Series]:
    """Return the column `unit`, where the export gives any."""
    units = [column.unit for column in columns]
    return [pl.Series("unit", units, pl.String).gather(pl.Series(number))] if any(units) else []


def _doubt(readings: pl.DataFrame, name: str) -> pl.DataFrame:
    if readings.is_empty():
        return empty(REFUSED)
    if not name:
        reason = "the column has no name; give it one in the header"
        return refuse(readings.with_columns(tag=pl.lit(None, pl.String)), reason)
    reason = f"the column name {name!r} stands more than once in the header; export each tag once"
    return refuse(readings.with_columns(tag=pl.lit(name)), reason)
