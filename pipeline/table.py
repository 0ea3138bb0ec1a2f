"""Tables: the column contracts that every stage passes on, and the quality codes."""

from collections.abc import Iterable
from functools import cache

import numpy as np
import polars as pl

Schema = dict[str, pl.DataType]

TIME = pl.Datetime("us", "UTC")
QUALITIES = ("good", "uncertain", "bad")
QUALITY = pl.Enum(QUALITIES)

RAW: Schema = {
    "tag": pl.String(),  # name in the export
    "when": pl.String(),  # time as written
    "value": pl.String(),
    "quality": pl.String(),
    "line": pl.UInt32(),  # line of the file, from 1
}
"""What a layout returns: text only, nothing interpreted; one row a reading."""

LONG: Schema = {
    "tag": pl.String(),
    "time": TIME,
    "value": pl.Float64(),  # in the tag's unit; null where the export holds no number
    "quality": QUALITY,
    "raw": pl.String(),  # the text as exported where `value` does not say it all, else null
    "source": pl.String(),  # which delivery it came from: the ledger's key
}
"""What the archive keeps: one row a tag and instant."""


def packed(tags: Iterable[str]) -> Schema:
    """Return LONG as it travels in bulk: a tag is one of `tags`, and the delivery needs no column."""
    return {
        "tag": pl.Enum(sorted(tags)),
        **{name: LONG[name] for name in ("time", "value", "quality", "raw")},
    }


def readings_in(values: pl.Series) -> int:
    """Count the readings of a column that is NaN where there is none."""
    return int(np.count_nonzero(~np.isnan(values.to_numpy())))


GRABS: Schema = {
    "tag": pl.String(),
    "time": TIME,
    "value": pl.Float64(),
    "unit": pl.String(),
    "method": pl.String(),
    "by": pl.String(),
    "note": pl.String(),
    "below": pl.Boolean(),  # reported as less than `value`
}

CALIBRATIONS: Schema = {
    "instrument": pl.String(),
    "time": TIME,
    "kind": pl.String(),
    "as_found": pl.Float64(),
    "cleaned": pl.Float64(),  # shown after cleaning, before anything was adjusted
    "as_left": pl.Float64(),
    "reference": pl.Float64(),
    "reference_after": pl.Float64(),  # the reference once more at the end, where the water may have changed
    "by": pl.String(),
    "note": pl.String(),
}

MAINTENANCE: Schema = {
    "subject": pl.String(),
    "start": TIME,
    "end": TIME,
    "by": pl.String(),
    "note": pl.String(),
}

VERDICTS: Schema = {
    "finding_id": pl.String(),
    "verdict": pl.String(),
    "by": pl.String(),
    "time": TIME,
    "note": pl.String(),
}


def empty(schema: Schema) -> pl.DataFrame:
    """Return a frame of `schema` without rows."""
    return _empty(tuple(schema.items())).clone()


@cache
def _empty(columns: tuple[tuple[str, pl.DataType], ...]) -> pl.DataFrame:
    # A case alone asks for a dozen.
    return pl.DataFrame(schema=dict(columns))


def conform(frame: pl.DataFrame, schema: Schema) -> pl.DataFrame:
    """Return the columns of `schema`, in its order and types, out of a frame that holds them all."""
    return frame.select(pl.col(column).cast(dtype) for column, dtype in schema.items())


def require(frame: pl.DataFrame, schema: Schema, name: str) -> pl.DataFrame:
    """Return `frame` unchanged, or fail where it breaks its contract (our own bug, never the user's)."""
    for column, dtype in schema.items():
        found = frame.schema.get(column)
        if found != dtype:
            raise AssertionError(f"{name}.{column} is {found}, the contract says {dtype}")
    return frame
