"""Sheet: an export's text cut into lines and cells, where a broken line costs that line alone."""

import re
from collections.abc import Collection
from dataclasses import dataclass
from functools import cached_property
from io import BytesIO
from typing import NamedTuple

import numpy as np
import polars as pl

from pipeline.ingest.cells import Cut, Uncut
from pipeline.ingest.cells import split as split_all
from pipeline.ingest.head import BLANK, Head, split
from pipeline.ingest.lines import QUOTE as QUOTE_BYTE
from pipeline.ingest.lines import kept, lines_of, looked_over
from pipeline.ingest.refusal import REFUSED, refuse
from pipeline.table import empty

QUOTE = QUOTE_BYTE.decode()
_PADDINGS = (b"\x00", b"\x1a")
"""What a recorder fills up a block with, and what old systems end a text with."""
_FEW = 16
"""Lines that begin otherwise are few, if they are less than one of so many."""
_LINES = {"value": pl.String(), "line": pl.UInt32()}


class Read(NamedTuple):
    """A sheet split into cells.

    Parameters
    ----------
    cells : DataFrame
        Columns ``c0``, ``c1`` … and ``line`` of whole lines.
    others : DataFrame
        The same, as text, of the few that begin otherwise than a line of readings.
    refused : DataFrame of REFUSED
        Lines that could not be split.
    texts : Uncut or Cut
        All cells as text.
    """

    cells: pl.DataFrame
    others: pl.DataFrame
    refused: pl.DataFrame
    texts: Uncut | Cut


@dataclass(frozen=True)
class Sheet:
    """One export, or a slab of a long one, as UTF-8 lines.

    Parameters
    ----------
    name : str
        The file, as people know it.
    data : bytes
        UTF-8 without byte-order mark.
    head : Head
        The first lines of the file.
    first_line : int
        Line of the file at which `data` starts, from 1.
    """

    name: str
    data: bytes
    head: Head
    first_line: int = 1

    def rows(self) -> tuple[pl.DataFrame, pl.DataFrame]:
        """Split every line below the header.

        Returns
        -------
        cells : DataFrame
            Text columns ``c0``, ``c1`` … (as many as the header has), trimmed, and ``line``.
        refused : DataFrame of REFUSED
            Lines that are shorter or longer than the header, or have a quote that is never closed.
        """
        cells, others, refused, _ = self.read()
        return (pl.concat([cells, others]).sort("line") if others.height else cells), refused

    def read(self, numbers: Collection[int] = ()) -> Read:
        """Split every line below the header, columns in `numbers` as Float64, null where there is none."""
        return self._at_once(numbers) or self._line_by_line(numbers)

    def _at_once(self, numbers: Collection[int]) -> Read | None:
        """Split lines without quotes; None where there are any, or a line is too long."""
        data, delimiter = self._body, self.head.delimiter
        if not data or not delimiter or QUOTE_BYTE in data:
            return None
        starts, tidy = looked_over(data, delimiter)
        uncut = Uncut(data, self.first_line + self._above, delimiter, len(self._columns), starts)
        first = np.frombuffer(data, np.uint8)[starts]
        blank = first == ord("\n")
        apart = blank | self._odd(first)
        found = uncut.columns(numbers if tidy else (), apart)
        if found is None:
            return None
        cells, short = found
        by_itself = (apart & ~blank) | short
        others, refused = self._none, empty(REFUSED)
        if by_itself.any():
            others, refused = self._others(kept(data, uncut.starts, by_itself), np.flatnonzero(by_itself))
        if tidy:
            return Read(cells, others, refused, uncut)
        cut = Cut(pl.concat([_trimmed(cells), others]).sort("line"))
        return Read(cut.columns(numbers), self._none, refused, cut)

    def _odd(self, first: np.ndarray) -> np.ndarray:
        """Mark lines by their first sign that begin otherwise than with a time, if they are few."""
        odd: np.ndarray = (first < ord("0")) | (first > ord("9"))
        are_few = np.count_nonzero(odd) * _FEW < len(odd)
        return odd if are_few and self.head.when_columns[:1] == (0,) else np.zeros(len(odd), bool)

    def _line_by_line(self, numbers: Collection[int]) -> Read:
        """Split sound lines at once, and the others one by one."""
        if not self._body:
            cells, refused = self._none, empty(REFUSED)
        else:
            lines = lines_of(self._body, self.head.delimiter)
            sound = lines.marks == len(self._columns) - 1
            whole = self._whole(kept(self._body, lines.starts, sound), np.flatnonzero(sound))
            sound = sound if whole is not None else np.zeros(len(sound), bool)
            cells, refused = self._others(kept(self._body, lines.starts, ~sound), np.flatnonzero(~sound))
            cells = cells if whole is None else pl.concat([whole, cells]).sort("line")
        cut = Cut(cells)
        return Read(cut.columns(numbers), self._none, refused, cut)

    @property
    def _none(self) -> pl.DataFrame:
        return self._parsed(pl.DataFrame(schema=_LINES))

    @cached_property
    def _body(self) -> bytes:
        """What stands below the header, with LF at the ends of lines and no padding behind the last."""
        data = self.data.replace(b"\r\n", b"\n") if b"\r" in self.data else self.data
        return _below(data.rstrip(b"".join(_PADDINGS)) if data.endswith(_PADDINGS) else data, self._above)

    def _others(self, data: bytes, places: np.ndarray) -> tuple[pl.DataFrame, pl.DataFrame]:
        """Split lines that have quotes, or not as many cells as the header."""
        lines = pl.read_lines(BytesIO(data), name="value").with_columns(self._numbers(places))
        has_quote = lines["value"].str.contains(QUOTE, literal=True)
        cells, refused = self._plain(lines.filter(~has_quote))
        if not has_quote.any():
            return cells, refused
        more_cells, more_refused = self._quoted(lines.filter(has_quote))
        return pl.concat([cells, more_cells]).sort("line"), pl.concat([refused, more_refused]).sort("line")

    def _numbers(self, places: np.ndarray) -> pl.Series:
        return pl.Series("line", (places + (self.first_line + self._above)).astype(np.uint32))

    @property
    def _columns(self) -> list[str]:
        return [f"c{place}" for place in range(len(self.head.header))]

    @property
    def _above(self) -> int:
        """How many lines of `data` are header, or stand above it."""
        return max(0, self.head.header_line - self.first_line + 1)

    def _whole(self, data: bytes, places: np.ndarray) -> pl.DataFrame | None:
        """Split sound lines at once; None where the CSV reader counts them otherwise."""
        if not data or not self.head.delimiter:
            return None
        try:
            cells = self._split(data)
        except pl.exceptions.PolarsError:
            return None
        return _trimmed(cells).with_columns(self._numbers(places)) if cells.height == len(places) else None

    def _plain(self, lines: pl.DataFrame) -> tuple[pl.DataFrame, pl.DataFrame]:
        """Split lines without quotes: the CSV reader fills up short lines silently, so count first."""
        marks = lines["value"].str.count_matches(self.head.delimiter, literal=True)
        sound = marks == len(self.head.header) - 1
        if sound.all():
            return self._parsed(lines), empty(REFUSED)
        broken = lines.with_columns(width=marks + 1).filter(~sound)
        broken = broken.filter(pl.col("value").str.strip_chars(BLANK + self.head.delimiter) != "")
        return self._parsed(lines.filter(sound)), self._wrong_length(broken)

    def _parsed(self, lines: pl.DataFrame, quote: str | None = None) -> pl.DataFrame:
        if lines.is_empty():
            return pl.DataFrame(schema=self._schema).with_columns(lines["line"])
        text = lines["value"].str.join("\n")[0]
        return _trimmed(self._split(text.encode(), quote)).with_columns(lines["line"])

    @property
    def _schema(self) -> pl.Schema:
        return pl.Schema(dict.fromkeys(self._columns, pl.String()))

    def _split(self, data: bytes, quote: str | None = None) -> pl.DataFrame:
        return split_all(data, self._schema, self.head.delimiter, quote)

    def _quoted(self, lines: pl.DataFrame) -> tuple[pl.DataFrame, pl.DataFrame]:
        """Split lines with quotes, so that a stray quote cannot swallow the next line."""
        mark = re.escape(self.head.delimiter)
        cell = rf'(?:"[^"]*"|[^"{mark}]*)'
        # A blank around the quotes is for the slow way.
        is_simple = lines["value"].str.contains(rf"^{cell}(?:{mark}{cell})*$")
        cells, refused = self._simply_quoted(lines.filter(is_simple))
        if is_simple.all():
            return cells, refused
        more_cells, more_refused = self._one_by_one(lines.filter(~is_simple))
        return pl.concat([cells, more_cells]).sort("line"), pl.concat([refused, more_refused]).sort("line")

    def _simply_quoted(self, lines: pl.DataFrame) -> tuple[pl.DataFrame, pl.DataFrame]:
        """Split lines whose cells are quoted as a whole or not at all, and hold no quotes."""
        bare = lines["value"].str.replace_all('"[^"]*"', "")
        lines = lines.with_columns(width=bare.str.count_matches(self.head.delimiter, literal=True) + 1)
        sound = lines["width"] == len(self._columns)
        whole = lines.filter(sound)
        return self._parsed(whole, QUOTE), self._wrong_length(lines.filter(~sound))

    def _one_by_one(self, lines: pl.DataFrame) -> tuple[pl.DataFrame, pl.DataFrame]:
        # A quote inside a cell opens nothing: 12" main.
        opens = lines["value"].str.contains(rf'(?:^|{re.escape(self.head.delimiter)})\s*"')
        closed = ~opens | (lines["value"].str.count_matches(QUOTE, literal=True) % 2 == 0)
        unclosed = refuse(lines.filter(~closed), "a quote is opened and not closed on this line")
        lines = lines.filter(closed)
        cells = [split(text, self.head.delimiter) for text in lines["value"]]
        lines = lines.with_columns(pl.Series("width", [len(row) for row in cells], dtype=pl.UInt32))
        sound = lines["width"] == len(self._columns)
        columns = zip(*(row for row in cells if len(row) == len(self._columns)), strict=True)
        schema = dict.fromkeys(self._columns, pl.String())
        frame = pl.DataFrame(list(columns) if sound.any() else None, schema)
        refused = pl.concat([unclosed, self._wrong_length(lines.filter(~sound))])
        return _trimmed(frame).with_columns(lines.filter(sound)["line"]), refused

    def _wrong_length(self, lines: pl.DataFrame) -> pl.DataFrame:
        expected = pl.lit(len(self._columns))
        return refuse(lines, pl.format("the line has {} cells, the header has {}", "width", expected))


def _below(data: bytes, lines: int) -> bytes:
    start = 0
    for _ in range(lines):
        start = data.find(b"\n", start) + 1
        if not start:
            return b""
    return data[start:] if start else data


def _trimmed(cells: pl.DataFrame) -> pl.DataFrame:
    return cells.with_columns(pl.col(pl.String).str.strip_chars())
