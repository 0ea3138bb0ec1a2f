"""Refused: what could not be read of a delivery, kept as a table that people can open."""

from collections.abc import Iterable
from itertools import chain
from pathlib import Path

import polars as pl

from pipeline.archive.atomic import replace_file
from pipeline.archive.paths import refused_path

COLUMNS = ("file", "line", "tag", "when", "value", "reason")

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


def unknown_tags(archive: Path, source: str) -> set[str]:
    """Return the names that the config did not know when the delivery was read."""
    rows = read_refused(archive, source)
    return set(rows.filter(pl.col("reason").str.starts_with(UNKNOWN_TAG))["tag"].drop_nulls())
