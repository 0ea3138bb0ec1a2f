"""Cells: numbers read at once from where they lie; of the texts only those that somebody asks for."""

from collections.abc import Collection
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import polars as pl
import pyarrow as pa

from pipeline.ingest.lines import edges_of, kept, lines_of

_FEW = 16
"""Less than one line of so many is looked at by itself."""


@dataclass(frozen=True)
class Uncut:
    """Lines of an export as bytes, without quotes.

    Parameters
    ----------
    data : bytes
    first_line : int
        Line of the file at which `data` starts.
    delimiter : str
    width : int
        How many cells a line has, if it is sound.
    starts : ndarray of int
        Where the lines start.
    """

    data: bytes
    first_line: int
    delimiter: str
    width: int
    starts: np.ndarray

    def columns(self, numbers: Collection[int], apart: np.ndarray) -> tuple[pl.DataFrame, np.ndarray] | None:
        """Read all lines but those `apart` at once; None where one is too long.

        Returns
        -------
        cells : DataFrame
            ``c0``, ``c1`` … and ``line`` of the sound lines. Columns in `numbers` are Float64, null where a
            cell holds none; the others are text.
        short : ndarray of bool
            Which of all lines have less cells than they should.
        """
        last, places = self.width - 1, np.flatnonzero(~apart)
        kinds = {
            f"c{place}": pl.Float64() if place in numbers else pl.String() for place in range(self.width)
        }
        try:
            # Passed over are numbers that are none: a line that is too long still fails.
            data = kept(self.data, self.starts, ~apart)
            cells = split(data, pl.Schema(kinds), self.delimiter, ignore_errors=True)
        except pl.exceptions.PolarsError:
            return None
        if cells.height != len(places):
            return None
        cells = cells.with_columns(pl.Series("line", (places + self.first_line).astype(np.uint32)))
        short = self._short(places[_are_empty(cells[f"c{last}"]).to_numpy()])
        return cells.filter(~short[places]) if short.any() else cells, short

    def _short(self, suspects: np.ndarray) -> np.ndarray:
        """Mark the lines that lack cells, which the reader fills up: their last one is empty."""
        short = np.zeros(len(self.starts), bool)
        if len(suspects) * _FEW > len(short):
            short[suspects] = lines_of(self.data, self.delimiter).marks[suspects] < self.width - 1
        elif len(suspects):
            starts, mark = np.append(self.starts, len(self.data)), self.delimiter.encode()
            lines = zip(starts[suspects].tolist(), starts[suspects + 1].tolist(), strict=True)
            short[suspects] = [self.data.count(mark, *line) < self.width - 1 for line in lines]
        return short

    def texts(self, columns: np.ndarray, lines: pl.Series) -> pl.Series:
        """Return the text of single cells of sound lines, by column and line of the file."""
        rows = lines.to_numpy().astype(np.int64) - self.first_line
        data = self.data
        if len(rows) * _FEW < len(self.starts):
            keep = np.zeros(len(self.starts), bool)
            keep[rows] = True
            place = (np.cumsum(keep) - 1)[rows]
            data = kept(data, self.starts, keep)
            edges, last = _edges_of(data, self.delimiter), (place + 1) * self.width - 1
        else:
            edges, ends = self._edges, np.append(self.starts[1:] - 1, self._end)
            last = np.searchsorted(edges, ends[rows])
        at = last - (self.width - 1) + columns
        return gathered(data, np.where(at > 0, edges[at - 1] + 1, 0), edges[at]).alias("value")

    def whole(self, lines: pl.Series) -> pl.DataFrame:
        """Return all cells of some lines as text, and ``line``."""
        places = np.arange(self.width)
        rows = len(lines)
        texts = self.texts(
            np.tile(places, rows), lines.gather(pl.Series(np.repeat(np.arange(rows), self.width)))
        )
        columns = [texts.gather_every(self.width, place).alias(f"c{place}") for place in range(self.width)]
        return pl.DataFrame([*columns, lines.alias("line")])

    @property
    def _end(self) -> int:
        """Where the last line ends."""
        return len(self.data) - self.data.endswith(b"\n")

    @cached_property
    def _edges(self) -> np.ndarray:
        """Where all cells end."""
        return _edges_of(self.data, self.delimiter)


def _edges_of(data: bytes, delimiter: str) -> np.ndarray:
    """Where all cells end, the last one too."""
    edges = edges_of(data, delimiter)
    return edges if data.endswith(b"\n") else np.append(edges, len(data))


def gathered(data: bytes, first: np.ndarray, last: np.ndarray) -> pl.Series:
    """Return texts of UTF-8 by where each starts and ends, all in one go."""
    lengths = last - first
    ends = np.append(0, np.cumsum(lengths))
    signs = np.frombuffer(data, np.uint8)[np.arange(ends[-1]) + np.repeat(first - ends[:-1], lengths)]
    buffers = [None, pa.py_buffer(ends.astype(np.int64)), pa.py_buffer(signs)]
    return pl.Series("", pa.Array.from_buffers(pa.large_string(), len(lengths), buffers))


def _are_empty(cells: pl.Series) -> pl.Series:
    """Mark cells that may be empty: without text, or without a number."""
    return cells == "" if cells.dtype == pl.String else cells.is_null()


@dataclass(frozen=True)
class Cut:
    """Lines of an export as text columns ``c0``, ``c1`` … and ``line``, increasing."""

    frame: pl.DataFrame

    def columns(self, numbers: Collection[int]) -> pl.DataFrame:
        """Return the columns, those in `numbers` as Float64, null where a cell holds none."""
        return self.frame.with_columns(as_numbers(numbers))

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


def as_numbers(places: Collection[int]) -> list[pl.Expr]:
    """Turn text columns into numbers; what is none is null."""
    return [pl.col(f"c{place}").cast(pl.Float64, strict=False) for place in sorted(places)]


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
    ).rechunk()
