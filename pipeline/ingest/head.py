"""Head: the first lines of an export, split into cells; all that a layout may judge by."""

import csv
import re
from dataclasses import dataclass
from functools import cached_property

BLANK = " \t\r\x00\x1a"
"""What a blank line may hold: some recorders pad a file with NUL or end it with Ctrl-Z."""

LINES = 20
"""How many lines a layout sees."""

DELIMITERS = (",", ";", "\t", "|")
_TIME_WORDS = (
    "time|timestamp|time stamp|time_stamp|datetime|date time|date/time|date_time|date & time|date and time|"
    "localtime|local time|sample time"
)
TIME_NAMES = frozenset(_TIME_WORDS.split("|"))
DATE_NAMES = frozenset(["date", "day"])
TAG_NAMES = frozenset(["tag", "tag name", "tagname", "tag_name", "tag id", "point", "point name", "point id"])
VALUE_NAMES = frozenset(["value", "val", "reading", "tag value", "pv"])
QUALITY_NAMES = frozenset(["quality", "status", "quality code", "q", "opc quality", "opcquality"])
"""What header cells are called, in lower case: common practice, no source."""

_EXPLAINED_TIME = re.compile(r"(?:date|time|date[-_ /]?time|time[-_ ]?stamp)(?:[^a-z]|$)")


@dataclass(frozen=True)
class Head:
    """The first lines.

    Parameters
    ----------
    numbers : tuple of int
        Line number of each line, from 1; blank lines are left out.
    cells : tuple of tuple of str
        The lines, split and trimmed.
    delimiter : str
        What they were split at; empty where nothing splits them.
    """

    numbers: tuple[int, ...]
    cells: tuple[tuple[str, ...], ...]
    delimiter: str

    @property
    def header(self) -> tuple[str, ...]:
        """Cells of the first line that is not blank."""
        return self.cells[0] if self.cells else ()

    @property
    def header_line(self) -> int:
        """Line number of the header."""
        return self.numbers[0]

    @cached_property
    def names(self) -> tuple[str, ...]:
        """The header in lower case."""
        return tuple(cell.lower() for cell in self.header)

    @cached_property
    def when_columns(self) -> tuple[int, ...]:
        """Where the time stands: one column, or a date and a time side by side; empty if nowhere."""
        for place, name in enumerate(self.names):
            following = self.names[place + 1] if place + 1 < len(self.names) else ""
            if name in DATE_NAMES and following == "time":
                return place, place + 1
            if name in TIME_NAMES or name in DATE_NAMES:
                return (place,)
        # "Date-time CET (DD/MM/YYYY HH:mm)": a first column that begins like a time and explains itself.
        return (0,) if self.names and _EXPLAINED_TIME.match(self.names[0]) else ()

    @property
    def names_a_reading_a_line(self) -> bool:
        """Whether the header has a tag column and a value column."""
        return self.column(TAG_NAMES) is not None and self.column(VALUE_NAMES) is not None

    def column(self, names: frozenset[str]) -> int | None:
        """Place of the first header cell that is called one of `names`."""
        return next((place for place, name in enumerate(self.names) if name in names), None)


def head_of(text: str) -> Head:
    """Split the first lines of `text` at the delimiter that fits them best."""
    # Only LF ends a line, as for the rows below: `splitlines` would also stop at form feeds and the like.
    first = enumerate(text.split("\n", LINES)[:LINES], 1)
    lines = [(number, line) for number, line in first if line.strip(BLANK)]
    plain = [line for _, line in lines]
    best = max(DELIMITERS, key=lambda mark: _fit(plain, mark)) if plain else ""
    if not plain or _fit(plain, best)[0] == 0:
        best = ""
    cells = tuple(tuple(cell.strip() for cell in split(line, best)) for line in plain)
    return Head(tuple(number for number, _ in lines), cells, best)


def split(line: str, delimiter: str) -> list[str]:
    """Split one line; a quote that is never closed ends with the line."""
    if not delimiter:
        return [line]
    if '"' not in line:
        return line.split(delimiter)
    try:
        return next(csv.reader([line], delimiter=delimiter), [])
    except csv.Error:  # a stray CR, or a cell of more than 131,072 characters
        return line.split(delimiter)


def _fit(lines: list[str], delimiter: str) -> tuple[int, int]:
    """How many lines have as many cells as the first, and how many cells that is; (0, 0) without any."""
    widths = [len(split(line, delimiter)) for line in lines]
    if widths[0] < 2:
        return 0, 0
    return sum(width == widths[0] for width in widths), widths[0]
