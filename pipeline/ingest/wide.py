"""Wide: lines with a column a tag become one row a reading, tag after tag."""

import re
from collections import Counter
from dataclasses import dataclass

import numpy as np
import polars as pl

from pipeline.ingest.cells import Cut, Uncut
from pipeline.ingest.furniture import read_numbers, without_furniture
from pipeline.ingest.grid import Grid
from pipeline.ingest.head import Head
from pipeline.ingest.qualities import FLAGS, NO, YES, code_of, meaning
from pipeline.ingest.refusal import REFUSED, refuse
from pipeline.ingest.sheet import Sheet
from pipeline.ingest.vocabulary import (
    COUNT_NAMES,
    HOUR_NAMES,
    QUALITY_NAMES,
    TEXT_VALUE_NAMES,
    UNIT_NAMES,
    VALUE_NAMES,
    called,
    without_brackets,
)
from pipeline.ingest.zones import with_hours
from pipeline.table import RAW, empty

_VALUE_ENDING = re.compile(rf"[-_ .:]+(?:{'|'.join(sorted(VALUE_NAMES))})$")
"""What a value's column may add to its tag's name, as its quality's column adds another word."""

_QUALITY_ENDING = re.compile(
    rf"(.*\S)[-_ .:]+(?:{'|'.join(sorted(name for name in QUALITY_NAMES if name.startswith('q')))})"
)

_STATUS = re.compile(r"(?:status|estado|état)(?: ?code)?$")

WHEN, LINE = "\0when", "\0line"
"""Names that no tag can have."""


@dataclass(frozen=True)
class Column:
    """One tag's column, with the unit the export gives and the column of its quality, if there are."""

    place: int
    name: str
    unit: str = ""
    quality: int | None = None


def read_columns(
    sheet: Sheet, names: tuple[str, ...], units: tuple[str, ...]
) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Return RAW, tag after tag, and REFUSED, of a sheet whose columns are `names`.

    A column without a name, or with one that stands twice, is refused with its readings; one that only
    numbers the lines holds none.
    """
    cells, broken = sheet.rows()
    cells, summary = without_furniture(cells, sheet)
    columns = _columns(sheet.head, names, units)
    columns = [column for column in columns if not _numbers_lines(column, sheet.head, cells)]
    cells = cells.with_columns(when_of(sheet.head).alias(WHEN)).rename({"line": LINE})
    counts = Counter(column.name for column in columns)
    sound = [column for column in columns if column.name and counts[column.name] == 1]
    doubtful = [column for column in columns if column not in sound]
    refused = [broken, summary, *(_doubt(_readings(cells, [column]), column.name) for column in doubtful)]
    return _readings(cells, sound), pl.concat(refused).sort("line", maintain_order=True)


def grid_of(sheet: Sheet, names: tuple[str, ...]) -> tuple[Grid, pl.DataFrame] | None:
    """Return the cells of a sheet with columns `names`, and REFUSED; None where they are no plain grid."""
    columns = _columns(sheet.head, names, ("",) * len(names))
    may_number = [column for column in columns if not column.name and _is_before(column, sheet.head)]
    sound = [column for column in columns if column not in may_number]
    called_twice = len({column.name for column in sound}) < len(sound)
    if called_twice or not all(column.name and column.quality is None for column in sound):
        return None
    places = tuple(column.place for column in sound)
    frame, refused, cells = read_numbers(sheet, places)
    if not all(_numbers_lines(column, sheet.head, frame) for column in may_number):
        return None
    lines = frame.select(when_of(sheet.head).alias("when"), "line")
    numbers = frame.select(pl.col(f"c{column.place}").alias(column.name) for column in sound)
    if _has_empty_lines(numbers, lines["line"], cells, sound):
        return None  # a line without readings has no say in what its time means
    return Grid(lines, numbers, places, cells), refused


def _has_empty_lines(
    numbers: pl.DataFrame, line: pl.Series, cells: Uncut | Cut, columns: list[Column]
) -> bool:
    """Whether a line may hold nothing but its time."""
    if numbers.is_empty() or any(not column.has_nulls() for column in numbers):
        return False
    suspects = numbers.to_series(0).is_null()
    empty_there = numbers.filter(suspects).select(pl.all_horizontal(pl.all().is_null())).to_series()
    without = line.filter(suspects).filter(empty_there)
    if without.is_empty():
        return False
    readings = pl.col([f"c{column.place}" for column in columns])
    return not cells.whole(without).select(pl.any_horizontal(readings != "")).to_series().all()


def when_of(head: Head) -> pl.Expr:
    """Return the time as written: one column, or a date, its clock and its zone with spaces between."""
    columns = [f"c{place}" for place in (*head.when_columns, *head.zone_columns)]
    if len(columns) == 1:
        return pl.col(columns[0])
    hours = [f"c{place}" for place in head.when_columns if head.names[place] in HOUR_NAMES]
    full = pl.col(hours).str.replace(r"^\d{1,2}$", "${0}:00")
    others = [full if column in hours else pl.col(column) for column in columns]
    if head.zone_columns:
        others[-1] = with_hours(others[-1])
    return pl.concat_str(others, separator=" ").str.strip_chars()


def _is_before(column: Column, head: Head) -> bool:
    return column.place < head.when_columns[0]


def _numbers_lines(column: Column, head: Head, cells: pl.DataFrame) -> bool:
    """Whether a column without a name, left of the time, does nothing but count the lines one by one."""
    if column.name or not _is_before(column, head):
        return False
    numbers = cells[f"c{column.place}"].cast(pl.Int64, strict=False)
    if numbers.null_count() > 0:
        return False
    if len(numbers) == 1:  # counted from 1 or from 0 under one line of header
        return int(cells["line"][0]) - int(numbers[0]) in (1, 2)
    return bool((numbers.diff().drop_nulls() == 1).all())


def unit_of(head: Head, value: int) -> list[pl.Expr]:
    """Return the column `unit` of lines with one value: a column of the file, or what stands above it."""
    column = head.column(UNIT_NAMES)
    if column is not None:
        return [pl.col(f"c{column}").alias("unit")]
    said = without_brackets(head.header[value])[1] or head.told(UNIT_NAMES)
    return [pl.lit(said).alias("unit")] if said else []


def quality_of(head: Head) -> pl.Expr:
    """Return the quality of lines with one value: words or codes, or what a column of yes and no says."""
    column = head.column(QUALITY_NAMES)
    said = pl.lit(None, pl.String) if column is None else pl.col(f"c{column}")
    flags = [(head.names.index(name), *meant) for name, meant in FLAGS.items() if name in head.names]
    flags = [flag for flag in flags if {text.lower() for text in head.texts(flag[0])} <= YES | NO]
    words = [_flagged(pl.col(f"c{place}"), yes, no) for place, yes, no in flags]
    doubts = [pl.when(~word.is_in(["good", ""])).then(word) for word in words]
    return pl.coalesce(*doubts, said, *words).alias("quality")


def value_of(head: Head, place: int) -> pl.Expr:
    """Return the value of lines with one: where it is blank, the words of a column beside it."""
    value, words = pl.col(f"c{place}"), head.column(TEXT_VALUE_NAMES)
    if words is None:
        return value.alias("value")
    return pl.when(value == "").then(pl.col(f"c{words}")).otherwise(value).alias("value")


def _flagged(cell: pl.Expr, yes: str, no: str) -> pl.Expr:
    """Turn yes and no into words of quality; anything else is left as it stands."""
    word = cell.str.to_lowercase()
    return pl.when(word.is_in(YES)).then(pl.lit(yes)).when(word.is_in(NO)).then(pl.lit(no)).otherwise(cell)


def _columns(head: Head, names: tuple[str, ...], units: tuple[str, ...]) -> list[Column]:
    """Tell columns of readings from those of time, of line numbers and of quality."""
    columns: list[Column] = []
    repeated = Counter(called(name) for name in names)
    owned = _qualities_by_name(names)
    of_lines = _quality_of_lines(head, names)
    for place, name in enumerate(names):
        if place == of_lines:
            continue
        if place in head.when_columns or (place < head.when_columns[0] and called(name) in COUNT_NAMES):
            continue
        if place in owned.values() or place in head.zone_columns:
            continue
        if (
            columns
            and (_is_quality_of(columns[-1], called(name), repeated) or _says_good_or_bad(head, place))
            and columns[-1].quality is None
            and not _is_state(head, place, name)
        ):
            columns[-1] = Column(columns[-1].place, columns[-1].name, columns[-1].unit, place)
            continue
        columns.append(Column(place, name, units[place], owned.get(place, of_lines)))
    return columns


def _quality_of_lines(head: Head, names: tuple[str, ...]) -> int | None:
    """Return the only quality, where it stands before or behind several tags: it is the whole line's."""
    filled = [place for place, name in enumerate(names) if name and place not in head.when_columns]
    found = [place for place in filled if called(names[place]) in QUALITY_NAMES]
    if len(filled) < 3 or len(found) != 1 or found[0] not in (filled[0], filled[-1]):
        return None
    is_one = "qual" in called(names[found[0]]) or _says_good_or_bad(head, found[0])
    return found[0] if is_one else None


def _says_good_or_bad(head: Head, place: int) -> bool:
    """Whether a column called like a quality, such as a single Status, holds words of quality alone."""
    if head.names[place] not in QUALITY_NAMES:
        return False
    texts = {text.lower() for text in head.texts(place)}
    return bool(texts & {"good", "bad", "uncertain"}) and all(
        code_of(text) is None and meaning(text, None) for text in texts
    )


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


def _is_state(head: Head, place: int, name: str) -> bool:
    """Whether a column called a status begins with words of which none is a quality's: Running, Stopped."""
    if not _STATUS.search(called(name)):
        return False
    texts = head.texts(place)
    return bool(texts) and all(code_of(text) is None and meaning(text, None) is None for text in texts)


def _readings(cells: pl.DataFrame, columns: list[Column]) -> pl.DataFrame:
    """Turn every filled cell into a row of RAW, column after column."""
    if not columns:
        return empty(RAW)
    places = [f"c{column.place}" for column in columns]
    rows = cells.unpivot(places, index=[WHEN, LINE], variable_name="place", value_name="value")
    # A tag's name as a number: millions of rows share a few names.
    number = np.repeat(np.arange(len(columns), dtype=np.uint32), cells.height)
    raw = rows.select(
        pl.Series("tag", number).cat.to(pl.Enum([column.name for column in columns])),
        pl.col(WHEN).alias("when"),
        "value",
        _quality(cells, columns),
        pl.col(LINE).alias("line"),
        *_unit(columns, number),
    )
    # A quality without a value is a reading without a number.
    filled = (raw["value"] != "") | (raw["quality"] != "").fill_null(False)
    return raw if filled.all() else raw.filter(filled)


def _quality(cells: pl.DataFrame, columns: list[Column]) -> pl.Expr | pl.Series:
    if all(column.quality is None for column in columns):
        return pl.lit(None, pl.String).alias("quality")
    none = pl.Series([None], dtype=pl.String).new_from_index(0, cells.height)
    each = [none if column.quality is None else cells[f"c{column.quality}"] for column in columns]
    return pl.concat([series.alias("quality") for series in each])


def _unit(columns: list[Column], number: np.ndarray) -> list[pl.Series]:
    """Return the column `unit`, where the export gives any."""
    units = [column.unit for column in columns]
    return [pl.Series("unit", units, pl.String).gather(pl.Series(number))] if any(units) else []


def _doubt(readings: pl.DataFrame, name: str) -> pl.DataFrame:
    if readings.is_empty():
        return empty(REFUSED)
    if not name:
        reason = "the column has no name; give it one in the header"
        return refuse(readings.with_columns(tag=pl.lit(None, pl.String)), reason)
    reason = f"the column name {name!r} stands more than once in the header; export each tag once"
    return refuse(readings.with_columns(tag=pl.lit(name)), reason)
