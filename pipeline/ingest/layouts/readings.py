"""Readings: one line a reading, with its tag, its time and its value in columns of their own."""

import polars as pl

from pipeline.ingest.furniture import without_furniture
from pipeline.ingest.head import Head
from pipeline.ingest.sheet import Sheet
from pipeline.ingest.vocabulary import QUALITY_NAMES
from pipeline.ingest.wide import unit_of, when_of

ONE_TIME_A_LINE = False


def recognises(head: Head) -> bool:
    """Whether the header names a tag, a time and a value."""
    return bool(head.when_columns) and head.names_a_reading_a_line


def read(sheet: Sheet) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Return RAW in the order of the file, and REFUSED; an empty value is a reading without a number."""
    cells, broken = sheet.rows()
    head = sheet.head
    cells, summary = without_furniture(cells, sheet)
    quality, value = head.column(QUALITY_NAMES), head.value_columns[0]
    readings = cells.select(
        pl.col(f"c{head.tag_column}").alias("tag"),
        when_of(head).alias("when"),
        pl.col(f"c{value}").alias("value"),
        (pl.lit(None, pl.String) if quality is None else pl.col(f"c{quality}")).alias("quality"),
        "line",
        *unit_of(head, value),
    )
    if (readings["tag"] == "").any():
        readings = readings.filter((pl.col("tag") != "") | (pl.col("when") != "") | (pl.col("value") != ""))
    return readings, pl.concat([broken, summary]).sort("line", maintain_order=True)
