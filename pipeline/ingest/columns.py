"""Columns: which columns of a wide header hold readings, and which say how good those of others are."""

import re
from collections import Counter
from dataclasses import dataclass, replace
from functools import lru_cache

import polars as pl

from pipeline.ingest.head import Head
from pipeline.ingest.qualities import FLAGS, NO, YES, code_of, meaning
from pipeline.ingest.vocabulary import COUNT_NAMES, QUALITY_NAMES, VALUE_NAMES, called

_VALUE_ENDING = re.compile(rf"[-_ .:]+(?:{'|'.join(sorted(VALUE_NAMES))})$")
"""What a value's column may add to its tag's name, as its quality's column adds another word."""

_QUALITY_ENDING = re.compile(
    rf"(.*\S)[-_ .:]+(?:{'|'.join(sorted(name for name in QUALITY_NAMES if name.startswith('q')))})"
)

_CLASSIC = frozenset(map(str, (0, 4, 8, 12, 16, 20, 24, 28, 64, 68, 80, 84, 88, 192, 216)))
"""Every quality of OPC classic Data Access 3.0 (6.8), without the bits of limits."""

_STATUS = re.compile(r"(?:status|estado|état)(?: ?code)?$")


@dataclass(frozen=True)
class Column:
    """One tag's column, with the unit the export gives and the column of its quality, if there are."""

    place: int
    name: str
    unit: str = ""
    quality: int | None = None
    flag: tuple[str, str] | None = None
    """What yes and no say in a column of quality, where it holds those."""


@lru_cache(maxsize=4)
def columns_of(head: Head, names: tuple[str, ...], units: tuple[str, ...]) -> tuple[Column, ...]:
    """Tell columns of readings from those of time, of line numbers and of quality."""
    columns: list[Column] = []
    repeated = Counter(called(name) for name in names)
    owned = _qualities_by_name(names) | _qualities_before(head, names)
    of_lines = _quality_of_lines(head, names)
    for place, name in enumerate(names):
        if place == of_lines or place in owned.values() or place in head.zone_columns:
            continue
        if place in head.when_columns or (place < head.when_columns[0] and called(name) in COUNT_NAMES):
            continue
        if columns and _is_quality_of_last(columns, head, place, name, repeated):
            columns[-1] = replace(columns[-1], quality=place, flag=_flag(head, place))
            continue
        columns.append(Column(place, name, units[place], owned.get(place, of_lines)))
    return tuple(columns)


def _is_quality_of_last(
    columns: list[Column], head: Head, place: int, name: str, repeated: Counter[str]
) -> bool:
    """Whether a column says how good the one before it is, by its name or by what it holds."""
    last = columns[-1]
    if last.quality is not None or _is_state(head, place, name):
        return False
    by_content = _is_said(head, place) and _speaks_of(last, called(name), columns)
    return by_content or _is_quality_of(last, called(name), repeated)


def _quality_of_lines(head: Head, names: tuple[str, ...]) -> int | None:
    """Return the only quality, where it stands before or behind several tags: it is the whole line's."""
    filled = [place for place, name in enumerate(names) if name and place not in head.when_columns]
    found = [place for place in filled if called(names[place]) in QUALITY_NAMES]
    if len(found) != 1 or found[0] not in (filled[0], filled[-1]):
        return None
    if len(filled) < 3 and found[0] == filled[-1]:
        return None  # right behind its only tag
    is_one = "qual" in called(names[found[0]]) or says_good_or_bad(head, found[0])
    return found[0] if is_one else None


def _qualities_before(head: Head, names: tuple[str, ...]) -> dict[int, int]:
    """Return which column's quality stands in which, where every column has its own on its left."""
    filled = [place for place, name in enumerate(names) if name and place not in head.when_columns]
    found = [place for place in filled if called(names[place]) in QUALITY_NAMES]
    is_before = len(found) > 1 and found == filled[::2] and len(filled) == 2 * len(found)
    return {value: quality for quality, value in zip(found, filled[1::2], strict=True)} if is_before else {}


def says_good_or_bad(head: Head, place: int) -> bool:
    """Whether a column holds words of quality alone, or, called a quality, the codes of OPC classic.

    One that is not called so must hold "good": a tag's own column may well say Bad all day.
    """
    texts = {text.lower() for text in head.texts(place)}
    is_named = head.names[place] in QUALITY_NAMES
    if is_named and "192" in texts and texts <= _CLASSIC:
        return True
    wanted = {"good", "bad", "uncertain"} if is_named else {"good"}
    return bool(texts & wanted) and all(code_of(text) is None and meaning(text, None) for text in texts)


def _qualities_by_name(names: tuple[str, ...]) -> dict[int, int]:
    """Return which column's quality stands in which other, by a name such as "AIT-1 Quality", wherever it is.

    "P-1 Status" is left to its place: away from P-1 it is as likely the state of a pump.
    """
    owners = {_owner(name): place for place, name in enumerate(names) if name}
    alone = Counter(_owner(name) for name in names)
    found: dict[int, int] = {}
    for place, name in enumerate(names):
        match = _QUALITY_ENDING.fullmatch(called(name))
        owner = owners.get(match[1], place) if match and alone[match[1]] == 1 else place
        if owner != place and owner not in found:
            found[owner] = place
    return found


def _owner(name: str) -> str:
    return _VALUE_ENDING.sub("", called(name))


def _is_quality_of(column: Column, name: str, repeated: Counter[str]) -> bool:
    """Whether `name` heads the quality of the column before it: "Quality", or "AIT-1 Quality"."""
    if not column.name or column.quality is not None:
        return False
    owner = _owner(column.name)
    own = name.removeprefix(owner).strip(" ._-:")
    if name.startswith(owner) and own != name and own in QUALITY_NAMES:
        return True
    # A single column called "Status" may well be a tag.
    return name in QUALITY_NAMES and ("qual" in name or repeated[name] > 1)


def _speaks_of(column: Column, name: str, columns: list[Column]) -> bool:
    """Whether `name` may speak of `column`: it names that tag, or no other before it."""
    named = [one.name for one in columns if one.name and _owner(one.name) in name]
    return not named or column.name in named


def _is_said(head: Head, place: int) -> bool:
    """Whether what a column holds says how good other readings are: in words, or as yes and no."""
    return says_good_or_bad(head, place) or _flag(head, place) is not None


def _flag(head: Head, place: int) -> tuple[str, str] | None:
    """Return what yes and no mean in a column such as "Questionable" or "AIT-1 Good"; None in any other."""
    name = head.names[place]
    meant = FLAGS.get(name) or FLAGS.get(re.split(r"[ ._:-]", name)[-1])
    texts = {text.lower() for text in head.texts(place)}
    return meant if meant and texts and texts <= YES | NO else None


def _is_state(head: Head, place: int, name: str) -> bool:
    """Whether a column called a status begins with words of which none is a quality's: Running, Stopped."""
    if not _STATUS.search(called(name)):
        return False
    texts = head.texts(place)
    return bool(texts) and all(code_of(text) is None and meaning(text, None) is None for text in texts)


def flagged(cell: pl.Expr, yes: str, no: str) -> pl.Expr:
    """Turn yes and no into words of quality; anything else is left as it stands."""
    word = cell.str.to_lowercase()
    return pl.when(word.is_in(YES)).then(pl.lit(yes)).when(word.is_in(NO)).then(pl.lit(no)).otherwise(cell)
