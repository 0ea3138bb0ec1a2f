"""Dialect: how a spreadsheet saved a table: what parts its cells, and the mark of its decimals."""

import re
from dataclasses import dataclass

_SEPARATORS = ",;\t"
"""Commas, or what a spreadsheet saves where the comma is the decimal mark."""
_COMMA = re.compile(r"[+-]?\d+,\d+")
_LIKE_THOUSANDS = re.compile(r"[+-]?[1-9]\d{0,2}[.,]\d{3}")
"""1,234 and 1.234: one and a quarter, or one thousand two hundred and thirty-four."""


@dataclass(frozen=True)
class Dialect:
    """What parts the cells of a table, and whether one of them shows that its decimals have a comma."""

    separator: str
    shows_comma: bool

    def plain(self, text: str) -> str:
        """Return a number with a point for its comma; what is no such number as it is.

        Raises
        ------
        ValueError
            It can be read both ways.
        """
        if self.separator == ",":
            return text
        if _LIKE_THOUSANDS.fullmatch(text) and ("," in text) != self.shows_comma:
            whole, part = re.split("[.,]", text)
            raise ValueError(f"{text!r} can be {whole}.{part} or {whole}{part}")
        return text.replace(",", ".") if _COMMA.fullmatch(text) else text


BOTH_WAYS = (
    "write it without a mark between thousands, or with one digit more or less behind the decimal mark"
)


def dialect_of(text: str) -> Dialect:
    """Tell from a table's text; its first line is the header."""
    separator = max(_SEPARATORS, key=text.partition("\n")[0].count)
    cells = (cell.strip('"<> \r') for line in text.split("\n") for cell in line.split(separator))
    sure = (cell for cell in cells if _COMMA.fullmatch(cell) and not _LIKE_THOUSANDS.fullmatch(cell))
    return Dialect(separator, separator != "," and any(sure))
