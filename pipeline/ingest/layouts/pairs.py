"""Pairs: each tag has a time column and a value column of its own, side by side; series may end early."""

from dataclasses import dataclass

import numpy as np
import polars as pl

from pipeline.ingest.channels import unit_of
from pipeline.ingest.furniture import without_furniture
from pipeline.ingest.head import Head
from pipeline.ingest.refusal import REFUSED, refuse
from pipeline.ingest.sheet import Sheet
from pipeline.ingest.vocabulary import QUALITY_NAMES, VALUE_NAMES, called, owner_of_time, without_brackets
from pipeline.table import empty

ONE_TIME_A_LINE = False


@dataclass(frozen=True)
class Pair:
    """Columns of one tag."""

    tag: str
    when: int
    value: int
    quality: int | None
    unit: str


def recognises(head: Head) -> bool:
    """Whether the header has several times, or one that belongs to the tag beside it."""
    found = pairs(head) if head.pair_columns and not head.names_a_reading_a_line else []
    return bool(found) and all(pair.tag for pair in found)


def read(sheet: Sheet) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Return RAW, tag after tag, and REFUSED; a time without a value is a reading without a number."""
    cells, broken = sheet.rows()
    cells, summary = without_furniture(cells, sheet)
    found = pairs(sheet.head)
    refused = [broken, summary, _strays(cells, sheet.head, found)]
    return _readings(cells, found), pl.concat(refused).sort("line", maintain_order=True)


def pairs(head: Head) -> list[Pair]:
    """Find each tag's columns: from its time to the column before the next tag's time."""
    starts = head.pair_columns
    return [_pair(head, start, end) for start, end in zip(starts, (*starts[1:], head.width), strict=True)]


def _pair(head: Head, start: int, end: int) -> Pair:
    value = start + 1
    name, unit = without_brackets(head.header[value])
    generic = called(name) in VALUE_NAMES
    owner = owner_of_time(head.header[start])
    above = [row for row in head.rows if row != head.header]
    over = [row[place] for row in above for place in (value, start) if row[place]]
    tag = owner or (next(iter(over), "") if generic else head.header[value])
    quality = next((place for place in range(value + 1, end) if _is_quality(head.names[place], tag)), None)
    said = unit if generic or owner else next((cell for cell in over if unit_of(cell)), "")
    if generic and not said:
        said = next((cell for cell in over if cell != tag and unit_of(cell)), "")
    return Pair(tag, start, value, quality, said)


def _is_quality(name: str, tag: str) -> bool:
    return name.removeprefix(tag.lower()).strip(" ._-:") in QUALITY_NAMES


def _readings(cells: pl.DataFrame, found: list[Pair]) -> pl.DataFrame:
    """Return RAW, tag after tag; where a series has ended there is nothing."""
    number = pl.Series(np.repeat(np.arange(len(found), dtype=np.uint32), cells.height))
    none = pl.Series([None], dtype=pl.String).new_from_index(0, cells.height)
    columns = {
        "tag": pl.Series([pair.tag for pair in found]).gather(number),
        "when": pl.concat([cells[f"c{pair.when}"] for pair in found]),
        "value": pl.concat([cells[f"c{pair.value}"] for pair in found]),
        "quality": pl.concat([none if pair.quality is None else cells[f"c{pair.quality}"] for pair in found]),
        "line": pl.concat([cells["line"]] * len(found)),
    }
    if any(pair.unit for pair in found):
        columns["unit"] = pl.Series([pair.unit for pair in found]).gather(number)
    return pl.DataFrame(columns).filter((pl.col("when") != "") | (pl.col("value") != ""))


def _strays(cells: pl.DataFrame, head: Head, found: list[Pair]) -> pl.DataFrame:
    """Refuse what stands in columns that belong to no pair."""
    used = {place for pair in found for place in (pair.when, pair.value, pair.quality)}
    others = [place for place in range(head.width) if place not in used and (cells[f"c{place}"] != "").any()]
    parts = [
        cells.select(
            "line",
            pl.lit(head.header[place] or None, pl.String).alias("tag"),
            pl.col(f"c{place}").alias("value"),
        )
        for place in others
    ]
    if not parts:
        return empty(REFUSED)
    rows = pl.concat(parts).filter(pl.col("value") != "")
    return refuse(
        rows, "the column belongs to no pair of a time and a value; give it a time, or leave it out"
    )
