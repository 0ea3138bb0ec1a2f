"""Header rows: one column a tag under several header rows: the tags, their descriptions, their units."""

import polars as pl

from pipeline.ingest.channels import unit_of
from pipeline.ingest.head import Head
from pipeline.ingest.sheet import Sheet
from pipeline.ingest.vocabulary import TAG_NAMES, TEXT_NAMES, UNIT_NAMES, called, without_brackets
from pipeline.ingest.wide import read_columns

ONE_TIME_A_LINE = True


def recognises(head: Head) -> bool:
    """Whether a wide header has more rows than one."""
    return head.is_wide and len(head.rows) > 1


def read(sheet: Sheet) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Return RAW, tag after tag with the unit its header gives, and REFUSED."""
    rows = sheet.head.rows
    names = rows[_tag_row(rows)]
    place = _unit_row(rows)
    return read_columns(sheet, names, _units_described(rows, names) if place is None else rows[place])


def _units_described(rows: tuple[tuple[str, ...], ...], names: tuple[str, ...]) -> tuple[str, ...]:
    """Return the units that stand in brackets behind the descriptions: ``Raw water (degF)``; else blank."""
    others = [row for row in rows if row != names]
    each = ([without_brackets(row[place])[1] for row in others] for place in range(len(names)))
    return tuple(next((text for text in inside if text and unit_of(text)), "") for inside in each)


def _tag_row(rows: tuple[tuple[str, ...], ...]) -> int:
    """Return the row labelled as the tags; else the first of the fullest that have no other label.

    A row that names groups of columns leaves cells blank. Where a row of units would be taken, the tags
    stand in a row labelled Name, or above.
    """
    labels = [called(row[0]).rstrip(": ") for row in rows]
    labelled = [place for place, label in enumerate(labels) if label in TAG_NAMES]
    others = [
        place
        for place, label in enumerate(labels)
        if label not in UNIT_NAMES | TEXT_NAMES
        and sum(cell != "" for cell in rows[place][1:]) * 2 >= len(rows[place]) - 1
        and not _holds_units(rows[place])
    ]
    named = [place for place, label in enumerate(labels) if label == "name"]
    fullest = [max(others, key=lambda place: sum(cell != "" for cell in rows[place][1:]))] if others else []
    return (labelled or fullest or named or [0])[0]


def _unit_row(rows: tuple[tuple[str, ...], ...]) -> int | None:
    """Return the row labelled as units; else the one below the tags that holds hardly anything but units."""
    for place, row in enumerate(rows):
        if called(row[0]).rstrip(": ") in UNIT_NAMES:
            return place
    for place in range(_tag_row(rows) + 1, len(rows)):
        if _holds_units(rows[place]):
            return place
    return None


def _holds_units(row: tuple[str, ...]) -> bool:
    """Whether a row holds hardly anything but units."""
    cells = [cell for cell in row[1:] if cell]
    known = sum(bool(unit_of(cell)) for cell in cells)
    return bool(cells) and known * 2 > len(cells)
