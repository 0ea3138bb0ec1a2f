"""Columns: a time column and one column a tag, under one header row; an empty cell was not recorded."""

import polars as pl

from pipeline.ingest.grid import Grid
from pipeline.ingest.head import Head
from pipeline.ingest.sheet import Sheet
from pipeline.ingest.wide import grid_of, read_columns

ONE_TIME_A_LINE = True


def recognises(head: Head) -> bool:
    """Whether a single header row names one time and the tags."""
    return head.is_wide and len(head.rows) == 1


def read(sheet: Sheet) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Return RAW, tag after tag, and REFUSED; a unit may stand in brackets behind the tag's name."""
    header = sheet.head.header
    return read_columns(sheet, header, ("",) * len(header))


def grid(sheet: Sheet) -> tuple[Grid, pl.DataFrame] | None:
    """Return the same as cells, and REFUSED; None where the header or the lines are not as plain as that."""
    return grid_of(sheet, sheet.head.header)
