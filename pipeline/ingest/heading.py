"""Heading: where the header of an export stands: preamble above it, one row or several, readings below."""

from dataclasses import dataclass
from itertools import pairwise

from pipeline.ingest.channels import unit_of
from pipeline.ingest.vocabulary import (
    DATE_NAMES,
    TAG_NAMES,
    UNIT_NAMES,
    called,
    explains_a_time,
    explains_times,
    has_date,
    is_label,
    is_number,
    is_rule,
    may_be_time,
    names_a_time,
    owner_of_time,
)

Cells = tuple[tuple[str, ...], ...]

_MOST_ROWS = 6
"""Most header rows we look for."""


@dataclass(frozen=True)
class Heading:
    """Places of header rows among the first lines: `top` to `bottom`, and the row that names the time.

    `sure` tells whether a line with a time in the right column follows.
    """

    top: int
    named: int
    bottom: int
    sure: bool


def find_heading(lines: Cells) -> Heading:
    """Find the header among the first lines of an export.

    A row that names a time stands for the header if a line below it holds one in that column. Of several
    such rows (a preamble may speak of times as well) the last before the readings holds.
    """
    found = [
        _below(lines, place, columns) for place, columns in enumerate(map(_time_columns, lines)) if columns
    ]
    sure = [heading for heading in found if heading.sure]
    if sure:
        first = min(heading.bottom for heading in sure)
        best = max((heading for heading in sure if heading.bottom == first), key=lambda one: one.named)
        return _with_rows_above(lines, best)
    unnamed = next((one for one in _unnamed(lines) if one.sure), None)
    if unnamed is not None:
        return unnamed
    foreign = _foreign(lines)
    if foreign:
        return foreign[-1]
    plain = [one for one in found if any(names_a_time(cell) for cell in lines[one.named])]
    return (plain or found or [Heading(0, 0, 0, sure=False)])[0]


def _time_columns(cells: tuple[str, ...]) -> tuple[int, ...]:
    """Columns that a row calls a time; none where the row itself holds a date, as a reading does."""
    if len(cells) < 2 or any(has_date(cell) for cell in cells):
        return ()
    named = [place for place, cell in enumerate(cells) if names_a_time(cell)]
    if not named and explains_a_time(cells[0]):
        named = [0]
    return tuple(named or [place for place, cell in enumerate(cells) if owner_of_time(cell)])


def _below(lines: Cells, named: int, columns: tuple[int, ...]) -> Heading:
    """Follow the header down to the line above the first reading."""
    bottom = named
    for place in range(named + 1, min(named + _MOST_ROWS, len(lines))):
        cells = lines[place]
        if any(column < len(cells) and may_be_time(cells[column]) for column in columns):
            return Heading(named, named, bottom, sure=True)
        if not _is_header_row(cells, columns):
            break
        bottom = place
    return Heading(named, named, named, sure=_times_follow(lines, named, columns))


def _times_follow(lines: Cells, named: int, columns: tuple[int, ...]) -> bool:
    """Whether times stand below, though the first line below the header is spoilt."""
    below = lines[named + 1 :]
    hits = sum(
        any(column < len(cells) and may_be_time(cells[column]) for column in columns) for cells in below
    )
    return hits > len(below) // 2


def _is_header_row(cells: tuple[str, ...], columns: tuple[int, ...]) -> bool:
    """Whether a row below the first can be a further header row: descriptions, units or a ruled line."""
    if is_rule(cells):
        return True
    own = [cells[column] for column in columns if column < len(cells) and cells[column]]
    explained = any(map(explains_times, own))
    if not all(is_label(cell) or explains_times(cell) for cell in own):
        return False
    others = [cell for place, cell in enumerate(cells) if place not in columns and cell]
    return bool(others or explained) and not any(is_number(cell) for cell in others)


def called_times(
    lines: Cells, heading: Heading, columns: tuple[int, ...], header: tuple[str, ...]
) -> list[str]:
    """Return what times are called; and what explains them in rows below, as if in brackets behind them."""
    below = [row for row in lines[heading.named + 1 : heading.bottom + 1] if not is_rule(row)]
    cells = [row[place] for row in below for place in columns if place < len(row)]
    explained = [f"Time ({cell.strip('()[] ')})" for cell in cells if explains_times(cell)]
    return [*(header[place] for place in columns), *explained]


def _with_rows_above(lines: Cells, heading: Heading) -> Heading:
    """Take in header rows that stand above the row that names the time, such as the tags over their pairs."""
    named = lines[heading.named]
    times = _time_columns(named)
    pairs = len(times) > 1
    # Of a wide header it is not asked: to look a word up among all units takes a while.
    over_units = len(named) < 3 and all(
        map(unit_of, (cell for place, cell in enumerate(named) if place not in times))
    )
    top = heading.named
    for place in range(heading.named - 1, max(heading.named - _MOST_ROWS, -1), -1):
        cells = lines[place]
        if (
            len(cells) != len(named)
            or (len(cells) < 3 and not over_units)
            or any(has_date(cell) or is_number(cell) for cell in cells)
        ):
            break
        if not is_label(cells[0]) and not pairs:
            break
        # A preamble saved by a spreadsheet is padded to full width, with one or two cells filled.
        over_each = pairs and all(any(cells[place : place + 2]) for place in times)
        if over_each or sum(cell != "" for cell in cells[1:]) * 3 >= (len(cells) - 1) * 2:
            top = place
    return Heading(top, heading.named, heading.bottom, heading.sure)


def _unnamed(lines: Cells) -> list[Heading]:
    """Headers that name no time: a blank first cell or "Tag" over a column of times."""
    return [
        _below(lines, place, (0,))
        for place, cells in enumerate(lines)
        if len(cells) > 1
        and (not cells[0] or called(cells[0]).rstrip(": ") in TAG_NAMES | UNIT_NAMES | DATE_NAMES)
        and any(cells[1:])
        and not any(is_number(cell) or has_date(cell) for cell in cells[1:])
    ]


def _foreign(lines: Cells) -> list[Heading]:
    """Rows of words whose first stands right over a column of times: "Zeitpunkt", "ts", "When"."""
    return [
        Heading(place, place, place, sure=True)
        for place, (cells, below) in enumerate(pairwise(lines))
        if len(cells) == len(below) > 1
        and all(cells)
        and has_date(below[0])
        and not any(is_number(cell) or has_date(cell) for cell in cells)
    ]
