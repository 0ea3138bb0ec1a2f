"""Sheet: an export's text cut into lines and cells, where a broken line costs that line alone."""

from dataclasses import dataclass
from io import BytesIO

import polars as pl

from pipeline.ingest.head import BLANK, Head, split
from pipeline.ingest.refusal import REFUSED, refuse
from pipeline.table import empty

QUOTE = '"'


@dataclass(frozen=True)
class Sheet:
    """One export as UTF-8 lines.

    Parameters
    ----------
    name : str
        The file, as people know it.
    data : bytes
        UTF-8 without byte-order mark.
    head : Head
        Its first lines.
    """

    name: str
    data: bytes
    head: Head

    def rows(self) -> tuple[pl.DataFrame, pl.DataFrame]:
        """Split every line below the header.

        Returns
        -------
        cells : DataFrame
            Text columns ``c0``, ``c1`` … (as many as the header has), trimmed, and ``line``.
        refused : DataFrame of REFUSED
            Lines that are shorter or longer than the header, or have a quote that is never closed.
        """
        lines = pl.read_lines(BytesIO(self.data), name="value", row_index_name="line", row_index_offset=1)
        lines = lines.slice(self.head.header_line)
        if QUOTE.encode() not in self.data:
            return self._plain(lines, whole=True)
        has_quote = lines["value"].str.contains(QUOTE, literal=True)
        cells, refused = self._plain(lines.filter(~has_quote), whole=False)
        more_cells, more_refused = self._quoted(lines.filter(has_quote))
        return pl.concat([cells, more_cells]).sort("line"), pl.concat([refused, more_refused]).sort("line")

    @property
    def _columns(self) -> list[str]:
        return [f"c{place}" for place in range(len(self.head.header))]

    def _plain(self, lines: pl.DataFrame, whole: bool) -> tuple[pl.DataFrame, pl.DataFrame]:
        """Split lines without quotes: the CSV reader fills up short lines silently, so count first."""
        marks = lines["value"].str.count_matches(self.head.delimiter, literal=True)
        sound = marks == len(self.head.header) - 1
        if sound.all():
            return self._parsed(lines, whole), empty(REFUSED)
        broken = lines.with_columns(width=marks + 1).filter(~sound)
        broken = broken.filter(pl.col("value").str.strip_chars(BLANK + self.head.delimiter) != "")
        return self._parsed(lines.filter(sound), whole=False), self._wrong_length(broken)

    def _parsed(self, lines: pl.DataFrame, whole: bool) -> pl.DataFrame:
        schema = pl.Schema(dict.fromkeys(self._columns, pl.String()))
        if lines.is_empty():
            return pl.DataFrame(schema=schema).with_columns(lines["line"])
        cells = pl.read_csv(
            BytesIO(self.data) if whole else "\n".join(lines["value"]).encode(),
            has_header=False,
            skip_lines=self.head.header_line if whole else 0,
            schema=schema,
            separator=self.head.delimiter,
            quote_char=None,
            empty_string_is_null=False,
        )
        return _trimmed(cells).with_columns(lines["line"])

    def _quoted(self, lines: pl.DataFrame) -> tuple[pl.DataFrame, pl.DataFrame]:
        """Split lines with quotes one by one, so that a stray quote cannot swallow the next line."""
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


def _trimmed(cells: pl.DataFrame) -> pl.DataFrame:
    return cells.with_columns(pl.all().str.strip_chars())
