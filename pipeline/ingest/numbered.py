"""Numbered: a slab of one reading a line, its numbers read where they lie; of the texts only the odd ones."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import polars as pl

from pipeline.ingest.cells import Cut, Uncut

Written = Callable[[pl.Series], pl.Series]
"""Gives the values that stand in some lines, as written."""


@dataclass(frozen=True)
class Numbered:
    """The readings of some lines.

    Parameters
    ----------
    rows : DataFrame of RAW
        With a column `number` more, null where `value` holds none; `value` is null where it holds one.
    cells : Uncut or Cut
        What stands in the lines.
    place : int
        Column of the values in `cells`.
    """

    rows: pl.DataFrame
    cells: Uncut | Cut
    place: int

    @classmethod
    def of(cls, rows: pl.DataFrame, cells: Uncut | Cut, place: int) -> "Numbered":
        """Return `rows` with the texts of those that are no finite numbers."""
        number = rows["number"]
        odd = number.is_finite().not_().fill_null(True)
        none = pl.Series("value", [None], pl.String).new_from_index(0, rows.height)
        bare = cls(rows.with_columns(none), cells, place)
        if not odd.any():
            return bare
        where = odd.arg_true()
        value = none.scatter(where, bare.written(rows["line"].gather(where)))
        return cls(rows.with_columns(value, number.set(odd, None)), cells, place)

    def written(self, lines: pl.Series) -> pl.Series:
        """Return the values of some lines as written."""
        return self.cells.texts(np.full(len(lines), self.place), lines)


def with_texts(rows: pl.DataFrame, wanted: pl.Expr, written: Written) -> pl.DataFrame:
    """Fill in `value` where it is null although it is `wanted`: as text, in spite of its number."""
    where = rows.select(wanted & pl.col("value").is_null()).to_series().arg_true()
    if where.is_empty():
        return rows
    return rows.with_columns(rows["value"].scatter(where, written(rows["line"].gather(where))))
