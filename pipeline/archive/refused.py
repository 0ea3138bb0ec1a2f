"""Refused: what could not be read of a delivery, kept as a table that people can open."""

import re
from collections.abc import Iterable
from datetime import date
from itertools import chain
from pathlib import Path

import polars as pl

from pipeline.archive.atomic import replace_file
from pipeline.archive.paths import refused_path

COLUMNS = ("file", "line", "tag", "when", "value", "reason")

_DAY = r"(\d{1,4}[-/.]\d{1,2}[-/.]\d{1,4})"

UNKNOWN_TAG = "unknown tag"
"""How the reason of a reading begins whose tag the config did not know."""


def write_refused(archive: Path, source: str, file: str, parts: Iterable[pl.DataFrame]) -> None:
    """Write ``file, line, tag, when, value, reason``, part after part; nothing where there are no rows."""
    parts = iter(parts)
    first = next(parts, None)
    if first is None:
        return

    def write(temporary: Path) -> None:
        with temporary.open("wb") as text:
            for number, rows in enumerate(chain([first], parts)):
                rows.select(pl.lit(file).alias("file"), pl.all()).write_csv(text, include_header=not number)

    replace_file(refused_path(archive, source), write)


def read_refused(archive: Path, source: str) -> pl.DataFrame:
    """Return the rows as text; an empty frame where nothing was refused."""
    path = refused_path(archive, source)
    if not path.exists():
        return pl.DataFrame(schema=dict.fromkeys(COLUMNS, pl.String))
    return pl.read_csv(path, infer_schema=False)


def refused_days(archive: Path, source: str) -> list[tuple[str, frozenset[date], int]]:
    """Return ``(name in the export, days, readings)``: how many were refused of each name on each day.

    A day that may be meant in two ways (``10/11/2026``) is both; none where the stamp tells no day.
    """
    rows = read_refused(archive, source)
    day = pl.col("when").str.extract(_DAY).alias("day")
    counts = rows.filter(pl.col("tag").is_not_null()).group_by("tag", day, maintain_order=True).len()
    return [(name, _days_meant(text or ""), count) for name, text, count in counts.iter_rows()]


def _days_meant(text: str) -> frozenset[date]:
    """Return the days that ``2026-11-10``, ``11/10/2026`` or ``10.11.2026`` may be."""
    parts = [int(part) for part in re.split("[-/.]", text) if part]
    if len(parts) != 3:
        return frozenset()
    orders = [parts] if parts[0] > 31 else [[parts[2], parts[0], parts[1]], [parts[2], parts[1], parts[0]]]
    found = set()
    for year, month, day in orders:
        try:
            found.add(date(year if year > 99 else 2000 + year, month, day))
        except ValueError:
            continue
    return frozenset(found)


def unknown_tags(archive: Path, source: str) -> set[str]:
    """Return the names that the config did not know when the delivery was read."""
    rows = read_refused(archive, source)
    return set(rows.filter(pl.col("reason").str.starts_with(UNKNOWN_TAG))["tag"].drop_nulls())
