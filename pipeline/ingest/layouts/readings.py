"""Readings: one line a reading, with its tag, its time and its value in columns of their own."""

import polars as pl

from pipeline.ingest.clocks import when_of
from pipeline.ingest.furniture import read_numbers, without_furniture
from pipeline.ingest.head import Head
from pipeline.ingest.numbered import Numbered
from pipeline.ingest.sheet import Sheet
from pipeline.ingest.vocabulary import TEXT_VALUE_NAMES
from pipeline.ingest.wide import quality_of, unit_of, value_of

ONE_TIME_A_LINE = False


def recognises(head: Head) -> bool:
    """Whether the header names a tag, a time and a value."""
    return bool(head.when_columns) and head.names_a_reading_a_line


def read(sheet: Sheet) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Return RAW in the order of the file, and REFUSED; an empty value is a reading without a number."""
    cells, broken = sheet.rows()
    cells, summary = without_furniture(cells, sheet)
    readings = _readings(cells, sheet.head, value_of(sheet.head, sheet.head.value_columns[0]))
    if (readings["tag"] == "").any():
        readings = readings.filter((pl.col("tag") != "") | (pl.col("when") != "") | (pl.col("value") != ""))
    return readings, pl.concat([broken, summary]).sort("line", maintain_order=True)


def numbered(sheet: Sheet) -> tuple[Numbered, pl.DataFrame] | None:
    """Return the same with the values as numbers, and REFUSED; None where words stand apart, or no tag."""
    head, place = sheet.head, sheet.head.value_columns[0]
    if head.column(TEXT_VALUE_NAMES) is not None:
        return None
    cells, refused, texts = read_numbers(sheet, [place])
    if (cells[f"c{head.tag_column}"] == "").any():
        return None
    rows = _readings(cells, head, pl.col(f"c{place}").alias("number"))
    return Numbered.of(rows, texts, place), refused


def _readings(cells: pl.DataFrame, head: Head, value: pl.Expr) -> pl.DataFrame:
    return cells.select(
        pl.col(f"c{head.tag_column}").alias("tag"),
        when_of(head).alias("when"),
        value,
        quality_of(head),
        "line",
        *unit_of(head, head.value_columns[0]),
    )
