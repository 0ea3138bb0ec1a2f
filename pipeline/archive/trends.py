"""Trends: the archive's readings as one lazy table."""

from collections.abc import Collection
from datetime import UTC, datetime
from pathlib import Path

import polars as pl

from pipeline.archive.areas import read_areas
from pipeline.archive.parquet import scan_readings
from pipeline.archive.paths import month_paths


def read(
    archive: Path,
    tags: Collection[str] | None = None,
    start: datetime | None = None,
    end: datetime | None = None,
) -> pl.LazyFrame:
    """Return readings, one row a tag and instant.

    Parameters
    ----------
    archive : Path
        Folder of the archive.
    tags : collection of str, optional
        Only these.
    start, end : datetime, optional
        Only ``start <= time < end`` [with zone].

    Returns
    -------
    LazyFrame of LONG
        By area and month, within each sorted by tag and time; files and row groups without such rows
        are not read.
    """
    stored = {} if tags is None else read_areas(archive)
    areas = ["*"] if tags is None else sorted({stored[tag] for tag in tags if tag in stored})
    paths = [path for area in areas for path in month_paths(archive, area)]
    rows = scan_readings([path for path in paths if _may_hold(path.stem, start, end)])
    if tags is not None:
        rows = rows.filter(pl.col("tag").is_in(sorted(tags)))
    if start is not None:
        rows = rows.filter(pl.col("time") >= start.astimezone(UTC))
    if end is not None:
        rows = rows.filter(pl.col("time") < end.astimezone(UTC))
    return rows


def first_and_last(archive: Path) -> tuple[datetime, datetime] | None:
    """Time of the first and of the last reading [UTC]; None for an empty archive."""
    paths = month_paths(archive)
    if not paths:
        return None
    months = sorted({path.stem for path in paths})
    ends = [path for path in paths if path.stem in (months[0], months[-1])]
    first, last = scan_readings(ends).select(pl.col("time").min(), last=pl.col("time").max()).collect().row(0)
    return first, last


def _may_hold(month: str, start: datetime | None, end: datetime | None) -> bool:
    """Whether a UTC month can hold instants of the window."""
    after_start = start is None or month >= f"{start.astimezone(UTC):%Y-%m}"
    return after_start and (end is None or month <= f"{end.astimezone(UTC):%Y-%m}")
