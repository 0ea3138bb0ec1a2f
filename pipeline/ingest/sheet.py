"""Sheet: an export's text cut into lines and cells, where a broken line costs that line alone."""

import re
from dataclasses import dataclass
from io import BytesIO

import numpy as np
import polars as pl

from pipeline.ingest.head import BLANK, Head, split
from pipeline.ingest.refusal import REFUSED, refuse
from pipeline.table import empty

QUOTE = '"'
_LINES = {"value": pl.String(), "line": pl.UInt32()}
_WINDOW_BYTES = 2**18
"""What is looked through for blanks at a time: fits in a processor's cache."""


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
        data = self.data.replace(b"\r\n", b"\n") if b"\r" in self.data else self.data
        data = _below(data, self._above)
        if not data:
            return self._parsed(pl.DataFrame(schema=_LINES)), empty(REFUSED)
        quick = self._quick(data)
        if quick is not None:
            return quick, empty(REFUSED)
        layout = _lines(data, self.head.delimiter)
        sound = layout.marks == len(self._columns) - 1
        kept = _kept(data, layout, sound)
        cells = self._whole(kept, np.flatnonzero(sound), _marks(kept, self.head.delimiter)[1])
        if cells is not None and sound.all():
            return cells, empty(REFUSED)
        if cells is None:
            cells, sound = self._parsed(pl.DataFrame(schema=_LINES)), np.zeros(len(sound), bool)
        more_cells, refused = self._others(_kept(data, layout, ~sound), np.flatnonzero(~sound))
        return pl.concat([cells, more_cells]).sort("line"), refused

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

    def _quick(self, data: bytes) -> pl.DataFrame | None:
        """Split all lines at once where each has as many cells as the header; else None.

        The CSV reader fails on a line that is too long, and leaves out or fills up others: so the number
        of delimiters and of rows prove them all sound.
        """
        if QUOTE.encode() in data or not self.head.delimiter:
            return None
        count = data.count(b"\n") + (not data.endswith(b"\n"))
        marks, trim = _marks(data, self.head.delimiter)
        if marks != count * (len(self._columns) - 1):
            return None
        return self._whole(data, np.arange(count), trim)

    def _whole(self, data: bytes, places: np.ndarray, trim: bool) -> pl.DataFrame | None:
        """Split sound lines at once; None where the CSV reader counts them otherwise."""
        if not data or not self.head.delimiter:
            return None
        try:
            cells = self._split(data)
        except pl.exceptions.PolarsError:
            return None
        if cells.height != len(places):
            return None
        return (cells if trim else _trimmed(cells)).with_columns(self._numbers(places))

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
        return pl.read_csv(
            data,
            has_header=False,
            schema=self._schema,
            separator=self.head.delimiter,
            quote_char=quote,
            empty_string_is_null=False,
        )

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
        closed = lines["value"].str.count_matches(QUOTE, literal=True) % 2 == 0
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


@dataclass(frozen=True)
class _Lines:
    """Where the lines of a text start, and how many delimiters each has; -1 where it has quotes."""

    starts: np.ndarray
    marks: np.ndarray


def _lines(data: bytes, delimiter: str) -> _Lines:
    text = np.frombuffer(data, np.uint8)
    starts = np.append(0, np.flatnonzero(text == ord("\n")) + 1)
    if starts[-1] == len(data):
        starts = starts[:-1]
    is_mark = (text == (ord(delimiter) if delimiter else 0)).view(np.uint8)
    marks = np.add.reduceat(is_mark, starts, dtype=np.int32)
    if QUOTE.encode() in data:
        marks[np.searchsorted(starts, np.flatnonzero(text == ord(QUOTE)), side="right") - 1] = -1
    return _Lines(starts, marks)


def _marks(data: bytes, delimiter: str) -> tuple[int, bool]:
    """Count the delimiters, and say whether surely no cell begins or ends with a blank."""
    text = np.frombuffer(data, np.uint8)
    marks, trim = 0, data.isascii() and not data[:1].isspace() and not data[-1:].strip(b"\n").isspace()
    for start in range(0, len(text), _WINDOW_BYTES):
        window = text[start : start + _WINDOW_BYTES + 1]
        edge = window == (ord(delimiter) if delimiter else 0)
        marks += int(np.count_nonzero(edge[:_WINDOW_BYTES]))
        if trim:
            edge |= window == ord("\n")
            blank = (window <= ord(" ")) & ~edge
            trim = not ((blank[1:] & edge[:-1]) | (blank[:-1] & edge[1:])).any()
    return marks, trim


def _kept(data: bytes, lines: _Lines, keep: np.ndarray) -> bytes:
    """Return the lines to be kept, in their order."""
    if keep.all():
        return data
    turns = np.flatnonzero(np.diff(keep.astype(np.int8), prepend=0, append=0))
    at = np.append(lines.starts, len(data))[turns].tolist()
    view = memoryview(data)
    return b"".join(view[start:end] for start, end in zip(at[::2], at[1::2], strict=True))


def _trimmed(cells: pl.DataFrame) -> pl.DataFrame:
    return cells.with_columns(pl.all().str.strip_chars())
