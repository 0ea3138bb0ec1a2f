"""Clocks: a time whose parts stand in columns of their own, side by side, becomes one text."""

from collections.abc import Sequence

import polars as pl

from pipeline.ingest.head import Head
from pipeline.ingest.vocabulary import (
    FRACTION_NAMES,
    HALF_NAMES,
    HOUR_NAMES,
    MINUTE_NAMES,
    SECOND_NAMES,
    YEAR_NAMES,
)
from pipeline.ingest.zones import with_hours

_MARKS = {**dict.fromkeys(MINUTE_NAMES | SECOND_NAMES, (":", 2)), **dict.fromkeys(FRACTION_NAMES, (".", 3))}
_MARKS |= dict.fromkeys(HALF_NAMES, (" ", 0))
"""The mark before each part of a clock, and how many digits it has."""


def when_of(head: Head) -> pl.Expr:
    """Return the time as written: one column, or its parts in their order and its zone behind them."""
    places = head.when_columns
    first = pl.col(f"c{places[0]}")
    if len(places) == 1 and not head.zone_columns:
        return first
    is_split = head.names[places[0]] in YEAR_NAMES
    pieces = [first.str.replace(r"^(\d\d)$", "20${1}") if is_split else first]
    for number, place in enumerate(places[1:], 1):
        if is_split and number < 3:
            pieces.append(_part(place, "-", 2))
        elif head.names[place] in _MARKS:
            pieces.append(_part(place, *_MARKS[head.names[place]]))
        else:
            pieces += [pl.lit(" "), _clock(head, place, places[number + 1 :])]
    for place in head.zone_columns:
        pieces += [pl.lit(" "), with_hours(pl.col(f"c{place}"))]
    return pl.concat_str(pieces).str.strip_chars()


def _part(place: int, mark: str, digits: int) -> pl.Expr:
    cell = pl.col(f"c{place}")
    return pl.when(cell == "").then(pl.lit("")).otherwise(pl.concat_str(pl.lit(mark), cell.str.zfill(digits)))


def _clock(head: Head, place: int, rest: Sequence[int]) -> pl.Expr:
    """Return a clock as written; an hour alone with its minutes, and a number as four digits."""
    cell = pl.col(f"c{place}")
    if rest and head.names[rest[0]] in MINUTE_NAMES:
        return cell
    if _are_numbers(head.texts(place)):
        # A spreadsheet takes 0015 for a number, and writes 15.
        return cell.str.replace(r"^\d{1,3}$", "000${0}").str.replace(r"^0*(\d{4})$", "${1}")
    return cell.str.replace(r"^\d{1,2}$", "${0}:00") if head.names[place] in HOUR_NAMES else cell


def _are_numbers(texts: frozenset[str]) -> bool:
    """Whether clocks are written without a mark, 2330, and none with one."""
    numbers = all(text.isdecimal() and len(text) <= 4 for text in texts)
    return numbers and any(len(text) > 2 for text in texts)
