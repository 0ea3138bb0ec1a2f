"""Readings: one line a reading, with its tag, its time and its value in columns of their own."""

import polars as pl

from pipeline.ingest.head import QUALITY_NAMES, TAG_NAMES, VALUE_NAMES, Head
from pipeline.ingest.sheet import Sheet

ONE_TIME_A_LINE = False


def recognises(head: Head) -> bool:
    """Whether the header names a tag, a time and a value."""
    return bool(head.when_columns) and head.names_a_reading_a_line


def read(sheet: Sheet) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Return RAW in the order of the file, and REFUSED; an empty value is a reading without a number."""
    cells, refused = sheet.rows()
    head = sheet.head
    when = pl.concat_str([f"c{place}" for place in head.when_columns], separator=" ")
    quality = head.column(QUALITY_NAMES)
    readings = cells.select(
        pl.col(f"c{head.column(TAG_NAMES)}").alias("tag"),
        (pl.col(f"c{head.when_columns[0]}") if len(head.when_columns) == 1 else when).alias("when"),
        pl.col(f"c{head.column(VALUE_NAMES)}").alias("value"),
        (pl.lit(None, pl.String) if quality is None else pl.col(f"c{quality}")).alias("quality"),
        "line",
    )
    blank = (pl.col("tag") == "") & (pl.col("when").str.strip_chars() == "") & (pl.col("value") == "")
    return readings.filter(~blank), refused
