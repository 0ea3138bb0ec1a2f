"""Head: the first lines of an export, split into cells; all that a layout may judge by."""

import csv
from collections import Counter
from dataclasses import dataclass
from datetime import tzinfo
from functools import cached_property
from itertools import zip_longest
from typing import Literal

from pipeline.ingest.heading import Heading, called_times, find_heading
from pipeline.ingest.places import calendar_of, places_of_time
from pipeline.ingest.qualities import FLAGS
from pipeline.ingest.vocabulary import (
    CLOCK_NAMES,
    COUNT_NAMES,
    DATE_NAMES,
    OFFSET_KEYS,
    OFFSET_NAMES,
    QUALITY_NAMES,
    TAG_NAMES,
    TEXT_NAMES,
    TEXT_VALUE_NAMES,
    UNIT_NAMES,
    VALUE_NAMES,
    ZONE_KEYS,
    ZONE_NAMES,
    called,
    explains_a_time,
    explanation,
    is_rule,
    names_a_time,
    names_a_zone,
    order_spelled,
    owner_of_time,
)
from pipeline.ingest.zones import times_in, zone_said_by, zone_written

BLANK = " \t\r\x00\x1a"
"""What a blank line may hold: some recorders pad a file with NUL or end it with Ctrl-Z."""

LINES = 120
"""How many lines a layout sees."""

DELIMITERS = (",", ";", "\t", "|")
_NO_VALUE_NAMES = QUALITY_NAMES | UNIT_NAMES | TEXT_NAMES | COUNT_NAMES | ZONE_NAMES | {""}
BESIDE_A_VALUE = _NO_VALUE_NAMES | FLAGS.keys() | TEXT_VALUE_NAMES
"""What may stand beside the value of a line and is no tag."""


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
    heading : Heading
        Which of the lines are the header.
    width : int
        Cells that a line of readings has.
    """

    numbers: tuple[int, ...]
    cells: tuple[tuple[str, ...], ...]
    delimiter: str
    heading: Heading
    width: int

    @property
    def header(self) -> tuple[str, ...]:
        """Cells of the header row that names the time, one a column."""
        return self._fitted(self.cells[self.heading.named]) if self.cells else ()

    @property
    def rows(self) -> tuple[tuple[str, ...], ...]:
        """Every row of the header, one cell a column, without ruled lines."""
        rows = self.cells[self.heading.top : self.heading.bottom + 1]
        return tuple(self._fitted(row) for row in rows if not is_rule(row))

    @property
    def preamble(self) -> tuple[tuple[str, ...], ...]:
        """Lines above the row that names the time."""
        return self.cells[: self.heading.named]

    @property
    def header_line(self) -> int:
        """Line number of the last row of the header; readings stand below."""
        return self.numbers[self.heading.bottom]

    @cached_property
    def names(self) -> tuple[str, ...]:
        """The header in lower case, without units in brackets."""
        return tuple(called(cell) for cell in self.header)

    @cached_property
    def when_columns(self) -> tuple[int, ...]:
        """Where the time stands: one column, or its parts, side by side; empty if nowhere."""
        if named := places_of_time(self.names, self.texts):
            return named
        # A first column that begins like a time and explains itself, or stands over a column of times.
        explained = bool(self.header) and explains_a_time(self.header[0])
        owned = next((place for place in range(len(self.names) - 1) if self._owns(place)), None)
        if owned is not None:
            return (owned,)
        return (0,) if explained or self.heading.sure else ()

    @cached_property
    def zone_columns(self) -> tuple[int, ...]:
        """Where each line names the zone of its time in letters or as an offset: no column, or one."""
        named = [place for place, name in enumerate(self.names) if name in ZONE_NAMES]
        return tuple(place for place in named if place not in self.when_columns and self._names_zones(place))[
            :1
        ]

    def texts(self, place: int) -> frozenset[str]:
        """Return what stands in a column of the first lines of readings."""
        return self._texts[place] if place < len(self._texts) else frozenset()

    @cached_property
    def _texts(self) -> tuple[frozenset[str], ...]:
        columns = zip_longest(*self.cells[self.heading.bottom + 1 :], fillvalue="")
        return tuple(frozenset(column) - {""} for column in columns)

    def _names_zones(self, place: int) -> bool:
        """Whether a column holds zones: one called so may also hold the pressure zone of a tag."""
        return self.names[place] in OFFSET_NAMES or any(map(names_a_zone, self.texts(place)))

    @cached_property
    def pair_columns(self) -> tuple[int, ...]:
        """Columns of time that belong to the tag beside them; empty where one time stands for all."""
        names = self.names
        own = tuple(place for place in range(len(names) - 1) if self._owns(place))
        if own or calendar_of(names):
            return own
        named = [place for place, name in enumerate(names) if names_a_time(name)]
        clocks = [
            place
            for place in named
            if place and names[place] in CLOCK_NAMES and names[place - 1] in DATE_NAMES
        ]
        times = tuple(place for place in named if place not in clocks)
        lone = any(place + 1 >= len(names) or place + 1 in named for place in times)
        return () if len(times) < 2 or lone or clocks else times

    def _owns(self, place: int) -> bool:
        """Whether a column is called "AIT-1 Time" and the next one speaks of AIT-1."""
        owner = owner_of_time(self.header[place])
        return owner is not None and self.names[place + 1].startswith(owner.lower())

    @cached_property
    def tag_column(self) -> int | None:
        """Where each line names its tag: called so, or a Name that varies; None where columns are tags."""
        others = [one for one in enumerate(self.names) if one[0] not in self.when_columns]
        named = [place for place, name in others if name in TAG_NAMES]
        if self.column(VALUE_NAMES) is not None:
            named += [place for place, name in others if name == "name" and len(self.texts(place)) > 1]
        return next(iter(named), None)

    @cached_property
    def value_columns(self) -> tuple[int, ...]:
        """Where the value of a reading may stand: called so, or the columns that are nothing else."""
        named = tuple(place for place, name in enumerate(self.names) if name in VALUE_NAMES)
        known = TAG_NAMES | _NO_VALUE_NAMES
        others = (place for place, name in enumerate(self.names) if name not in known)
        return named or tuple(place for place in others if place not in self.when_columns)

    @property
    def names_a_reading_a_line(self) -> bool:
        """Whether the header has a tag column and one value column."""
        return self.tag_column is not None and len(self.value_columns) == 1

    @property
    def names_one_tag(self) -> bool:
        """Whether the header has one value and no tag, and nothing else that could be one."""
        others = [name for place, name in enumerate(self.names) if place not in self.when_columns]
        one = self.tag_column is None and sum(name in VALUE_NAMES for name in others) == 1
        return one and (VALUE_NAMES | BESIDE_A_VALUE).issuperset(others)

    @property
    def is_wide(self) -> bool:
        """Whether the header names one time for a whole line, and the columns are tags."""
        of_time = len(self.when_columns) + len(self.zone_columns)
        one_time = bool(self.when_columns) and not self.pair_columns and of_time < self.width
        return one_time and self.tag_column is None and not self.names_one_tag

    def column(self, names: frozenset[str]) -> int | None:
        """Place of the first header cell that is called one of `names`."""
        return next((place for place, name in enumerate(self.names) if name in names), None)

    def told(self, keys: frozenset[str]) -> str:
        """Return what the lines above say of one of `keys`: ``Unit: NTU``, in one cell or in two."""
        for row in self.preamble:
            cells = row[next((place for place, cell in enumerate(row) if cell), 0) :]
            key, colon, rest = cells[0].partition(":")
            if key.strip().lower() in keys:
                following = next((cell for cell in cells[1:] if cell), "")
                return rest.strip() if colon and rest.strip() else following
        return ""

    @cached_property
    def zone_said(self) -> tzinfo | None:
        """The zone that the export itself says its times are in; None where it does not."""
        told = self.told(ZONE_KEYS) or self.told(OFFSET_KEYS)
        return zone_written(told) if told else zone_said_by(self._of_times, self._above)

    @cached_property
    def _of_times(self) -> list[str]:
        """What the times are called, and what explains them in rows below."""
        return called_times(self.cells, self.heading, self.when_columns, self.header)

    @property
    def _above(self) -> list[str]:
        return [" ".join(cells) for cells in self.preamble]

    @property
    def zone_letters(self) -> str | None:
        """What a line above calls the zone, or what explains a time (``Time (EST)``), in lower case."""
        said = (self.told(ZONE_KEYS), times_in(self._above), *map(explanation, self._of_times))
        return next((text.lower() for text in said if text), None)

    @cached_property
    def order_said(self) -> Literal["month_first", "day_first"] | None:
        """The order of day and month that the header spells out (``DD/MM/YYYY``); None where it does not."""
        return order_spelled(self._of_times)

    def _fitted(self, cells: tuple[str, ...]) -> tuple[str, ...]:
        return (*cells[: self.width], *[""] * (self.width - len(cells)))


def head_of(text: str) -> Head:
    """Split the first lines of `text` at the delimiter that fits them best, and find the header."""
    # Only LF ends a line, as for the rows below: `splitlines` would also stop at form feeds and the like.
    first = enumerate(text.split("\n", LINES)[:LINES], 1)
    lines = [(number, line) for number, line in first if line.strip(BLANK)]
    plain = [line for _, line in lines]
    heads = {mark: _cells(plain, mark) for mark in DELIMITERS}
    headings = {mark: find_heading(cells) for mark, cells in heads.items()} if plain else {}
    best = max(headings, key=lambda mark: (headings[mark].sure, *_fit(heads[mark])), default="")
    if not plain or _fit(heads[best])[0] == 0:
        best = ""
    cells = heads[best] if best else _cells(plain, best)
    heading = headings.get(best, Heading(0, 0, 0, sure=False))
    return Head(tuple(number for number, _ in lines), cells, best, heading, _width(cells, heading))


def _cells(lines: list[str], delimiter: str) -> tuple[tuple[str, ...], ...]:
    return tuple(tuple(cell.strip() for cell in split(line, delimiter)) for line in lines)


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


def _fit(cells: tuple[tuple[str, ...], ...]) -> tuple[int, int]:
    """How many lines have the commonest number of cells, and that number; (0, 0) where none is split."""
    widths = Counter(len(row) for row in cells if len(row) > 1)
    if not widths:
        return 0, 0
    width, count = max(widths.items(), key=lambda item: (item[1], item[0]))
    return count, width


def _width(cells: tuple[tuple[str, ...], ...], heading: Heading) -> int:
    """Cells of a line of readings: as many as the header has, but for separators at the ends of lines."""
    if not cells:
        return 0
    named = cells[heading.named]
    below = Counter(len(row) for row in cells[heading.bottom + 1 :])
    usual = max(below.items(), key=lambda item: item[1])[0] if below else len(named)
    if usual == len(named) + 1 and all(
        not row[-1] for row in cells[heading.bottom + 1 :] if len(row) == usual
    ):
        return usual
    if usual < len(named) and not any(named[usual:]):
        return usual
    return len(named)
