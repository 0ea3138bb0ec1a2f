"""Columns: a time column, then one column a tag; an empty cell means that nothing was recorded."""

from collections import Counter

import polars as pl

from pipeline.ingest.head import Head
from pipeline.ingest.refusal import refuse
from pipeline.ingest.sheet import Sheet

ONE_TIME_A_LINE = True
_WHEN, _LINE = "\0when", "\0line"
"""Names that no tag can have."""


def recognises(head: Head) -> bool:
    """Whether the first column is the time and the header does not speak of one reading a line."""
    return head.when_columns[:1] == (0,) and len(head.header) >= 2 and not head.names_a_reading_a_line


def read(sheet: Sheet) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Return RAW, tag after tag, and REFUSED."""
    cells, refused = sheet.rows()
    times, header = sheet.head.when_columns, sheet.head.header
    when = pl.concat_str([f"c{place}" for place in times], separator=" ")
    cells = cells.with_columns(when.alias(_WHEN)).rename({"line": _LINE})
    repeated = {name for name, count in Counter(header).items() if count > 1}
    doubtful = [place for place, name in enumerate(header) if not name or name in repeated]
    sound = {f"c{place}": name for place, name in enumerate(header) if place not in (*times, *doubtful)}
    refused = pl.concat(
        [
            refused,
            *(
                _doubt(_readings(cells.select(_WHEN, _LINE, f"c{place}")), header[place])
                for place in doubtful
            ),
        ]
    )
    return _readings(cells.select(_WHEN, _LINE, *sound).rename(sound)), refused.sort(
        "line", maintain_order=True
    )


def _readings(cells: pl.DataFrame) -> pl.DataFrame:
    """Turn every filled cell into a row of RAW, column after column."""
    rows = cells.unpivot(index=[_WHEN, _LINE], variable_name="tag", value_name="value")
    return rows.filter(pl.col("value") != "").select(
        "tag",
        pl.col(_WHEN).alias("when"),
        "value",
        pl.lit(None, pl.String).alias("quality"),
        pl.col(_LINE).alias("line"),
    )


def _doubt(readings: pl.DataFrame, name: str) -> pl.DataFrame:
    if not name:
        reason = "the column has no name; give it one in the header"
        return refuse(readings.with_columns(tag=pl.lit(None, pl.String)), reason)
    reason = f"the column name {name!r} stands more than once in the header; export each tag once"
    return refuse(readings.with_columns(tag=pl.lit(name)), reason)
