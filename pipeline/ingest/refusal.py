"""Refusal: a reading or a line that was not understood, kept whole with the reason."""

import polars as pl

from pipeline.table import Schema

REFUSED: Schema = {
    "line": pl.UInt32(),  # line of the file, from 1
    "tag": pl.String(),  # name in the export
    "when": pl.String(),
    "value": pl.String(),  # the whole line where it could not be split into cells
    "reason": pl.String(),
}
"""One row a reading (or line) that goes no further; everything as written."""


def refuse(rows: pl.DataFrame, reason: pl.Expr | str) -> pl.DataFrame:
    """Return `rows` as REFUSED, each with its `reason`; columns they lack stay null."""
    text = pl.lit(reason) if isinstance(reason, str) else reason
    columns = [
        pl.col(name).cast(dtype) if name in rows.columns else pl.lit(None, dtype).alias(name)
        for name, dtype in REFUSED.items()
        if name != "reason"
    ]
    return rows.select(*columns, text.cast(pl.String).alias("reason"))
