"""Series: several of them under one tag, told apart by a column that is none of a reading; they are refused.

A site, a probe, a kind of mean: at one time the tag then has several values, and whichever line came last
would stand for all.
"""

from collections import defaultdict

from pipeline.errors import RefusedError
from pipeline.ingest.head import Head
from pipeline.ingest.sheet import Sheet
from pipeline.ingest.vocabulary import COUNT_NAMES, QUALITY_NAMES, TEXT_VALUE_NAMES, UNIT_NAMES, is_number

_FEWEST = 3
"""Times at which the tag has the same several series: twice may be a slip."""
_NO_KEY = COUNT_NAMES | QUALITY_NAMES | TEXT_VALUE_NAMES | UNIT_NAMES

Row = tuple[str, ...]


def refuse_series(sheet: Sheet) -> None:
    """Refuse a file whose first lines give one tag several values at a time, and name whose each is."""
    head = sheet.head
    if head.pair_columns or not head.when_columns:
        return
    keys = head.when_columns if head.tag_column is None else (*head.when_columns, head.tag_column)
    several = [rows for rows in _at_a_time(head, keys) if len(rows) > 1]
    if len(several) < _FEWEST:
        return
    for place, name in enumerate(head.names):
        if place not in (*keys, *head.zone_columns) and name not in _NO_KEY and _tells(place, several):
            shown = ", ".join(row[place] for row in several[0][:2])
            told = f"told apart by its column {head.header[place]!r} ({shown})"
            remedy = "call the column Tag, if it names them; else export each under a tag of its own"
            raise RefusedError(sheet.name, f"at one time it has several values, {told}", remedy)


def _at_a_time(head: Head, keys: tuple[int, ...]) -> list[list[Row]]:
    """Return the different lines of each time, and of each tag where lines name theirs."""
    found: dict[Row, list[Row]] = defaultdict(list)
    for row in head.cells[head.heading.bottom + 1 :]:
        if len(row) == head.width and row not in found[key := tuple(row[place] for place in keys)]:
            found[key].append(row)
    return list(found.values())


def _tells(place: int, several: list[list[Row]]) -> bool:
    """Whether a column holds the same different words at every time that has several lines."""
    words = [frozenset(row[place] for row in rows) for rows in several]
    alike = all(len(said) == len(rows) for said, rows in zip(words, several, strict=True))
    repeated = len(set(words)) * _FEWEST <= len(words)
    return alike and repeated and not any(is_number(word) for word in words[0])
