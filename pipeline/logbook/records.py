"""Records: a table's text cut into lines of cells; a quote that is never closed costs its line alone."""

import csv
import re
from collections.abc import Iterator, Sequence
from itertools import islice

_DATE = re.compile(r"\d{4}-\d\d-\d\d|\d{1,2}[/.]\d{1,2}[/.]\d{2,4}")


class UnclosedError(Exception):
    """A quote is opened and not closed, or the cells of a line cannot be told apart."""


def records(
    text: str, separator: str, needed: Sequence[str]
) -> Iterator[tuple[int, list[str] | UnclosedError]]:
    """Yield each record with the number of its last line; for a line that cannot be read, why not.

    A cell in quotes may go on for several lines. Where one of them is a line of the table by itself, with
    all that is needed and a date, its quote was opened by mistake.

    Parameters
    ----------
    text : str
        The table, its header first.
    separator : str
        Between cells.
    needed : sequence of str
        Columns that every line fills in.
    """
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    at, places = 0, list[int]()
    while at < len(lines):
        cells, count = _record(lines, at, separator)
        if count > 1 and not isinstance(cells, UnclosedError) and places:
            open_at = next(place for place, cell in enumerate(cells) if "\n" in cell)
            within = lines[at + 1 : at + count]
            if any(_stands_alone(line.split(separator), places, open_at) for line in within):
                cells = UnclosedError("a quote is opened and not closed on this line")
        if isinstance(cells, UnclosedError):
            at += 1
            yield at, cells
            continue
        if not places:
            header = [cell.strip().lower() for cell in cells]
            places = [header.index(name) for name in needed if name in header]
        at += count
        yield at, cells


def _record(lines: list[str], at: int, separator: str) -> tuple[list[str] | UnclosedError, int]:
    """Return the cells of the record that begins in a line, and over how many lines it goes."""
    reader = csv.reader((f"{line}\n" for line in islice(lines, at, None)), delimiter=separator)
    try:
        return next(reader, []), max(1, reader.line_num)
    except csv.Error as error:
        return UnclosedError(f"the line cannot be cut into cells ({error})"), 1


def _stands_alone(cells: list[str], places: list[int], open_at: int) -> bool:
    """Whether a line within quotes, which were opened in the cell `open_at`, is one of the table."""
    is_filled = len(cells) > max(*places, open_at) and all(cells[place].strip() for place in places)
    return is_filled and any(map(_DATE.search, cells))
