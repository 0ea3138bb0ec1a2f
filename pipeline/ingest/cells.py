"""Cells: numbers read at once from where they lie; of the texts only those that somebody asks for."""

from collections.abc import Collection
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import polars as pl

from pipeline.ingest.lines import edges_of


@dataclass(frozen=True)
class Uncut:
    """Lines of an export as bytes: ASCII, without quotes, without a blank around a cell.

    Parameters
    ----------
    data : bytes
        Every line has `width` cells.
    line : ndarray of uint32
        The line of the file that each is, increasing.
    delimiter : str
    width : int
    """

    data: bytes
    line: np.ndarray
    delimiter: str
    width: int

    def columns(self, numbers: Collection[int]) -> pl.DataFrame | None:
        """Return ``c0``, ``c1`` … and ``line``; None where the CSV reader counts the lines otherwise.

        Columns in `numbers` are Float64, null where a cell holds none; the others are text.
        """
        kinds = {
            f"c{place}": pl.Float64() if place in numbers else pl.String() for place in range(self.width)
        }
        try:
            # What is passed over here are numbers that are none: a line that is too long still fails.
            cells = split(self.data, pl.Schema(kinds), self.delimiter, ignore_errors=True)
        except pl.exceptions.PolarsError:
            return None
        return cells.with_columns(pl.Series("line", self.line)) if cells.height == len(self.line) else None

    def texts(self, columns: np.ndarray, lines: pl.Series) -> pl.Series:
        """Return the text of single cells, by column and line of the file."""
        if not len(columns):
            return pl.Series("value", [], pl.String)
        at = np.searchsorted(self.line, lines.to_numpy()) * self.width + columns
        starts, ends = np.where(at > 0, self._ends[at - 1] + 1, 0), self._ends[at]
        data = self.data
        cells = [data[start:end].decode() for start, end in zip(starts.tolist(), ends.tolist(), strict=True)]
        return pl.Series("value", cells, pl.String)

    def whole(self, lines: pl.Series) -> pl.DataFrame:
        """Return all cells of some lines as text, and ``line``."""
        places = np.arange(self.width)
        rows = len(lines)
        texts = self.texts(
            np.tile(places, rows), lines.gather(pl.Series(np.repeat(np.arange(rows), self.width)))
        )
        columns = [texts.gather_every(self.width, place).alias(f"c{place}") for place in range(self.width)]
        return pl.DataFrame([*columns, lines.alias("line")])

    @cached_property
    def _ends(self) -> np.ndarray:
        """Where every cell ends."""
        ends = edges_of(self.data, self.delimiter)
        return ends if self.data.endswith(b"\n") else np.append(ends, len(self.data))


@dataclass(frozen=True)
class Cut:
    """Lines of an export as text columns ``c0``, ``c1`` … and ``line``, increasing."""

    frame: pl.DataFrame

    def columns(self, numbers: Collection[int]) -> pl.DataFrame:
        """Return the columns, those in `numbers` as Float64, null where a cell holds none."""
        return self.frame.with_columns(
            pl.col(f"c{place}").cast(pl.Float64, strict=False) for place in sorted(numbers)
        )

    def texts(self, columns: np.ndarray, lines: pl.Series) -> pl.Series:
        """Return the text of single cells, by column (one after the other) and line of the file."""
        rows = self.frame["line"].search_sorted(lines)
        found = [
            self.frame[f"c{place}"].gather(rows.filter(pl.Series(columns == place))).alias("value")
            for place in dict.fromkeys(columns.tolist())
        ]
        return pl.concat(found) if found else pl.Series("value", [], pl.String)

    def whole(self, lines: pl.Series) -> pl.DataFrame:
        """Return all cells of some lines, and ``line``."""
        return self.frame[self.frame["line"].search_sorted(lines)]


def split(
    data: bytes, schema: pl.Schema, delimiter: str, quote: str | None = None, ignore_errors: bool = False
) -> pl.DataFrame:
    """Split lines at their delimiters."""
    return pl.read_csv(
        data,
        has_header=False,
        schema=schema,
        separator=delimiter,
        quote_char=quote,
        empty_string_is_null=False,
        ignore_errors=ignore_errors,
    )
