"""Paths: where everything of the archive stands."""

from pathlib import Path

TRENDS = "trends"
SUPERSEDED = "superseded"
REFUSED = "refused"


def month_path(archive: Path, area: str, month: str) -> Path:
    """Return the file of the readings of one area in one UTC month (``2026-11``)."""
    return archive / TRENDS / area / f"{month}.parquet"


def month_paths(archive: Path, area: str = "*") -> list[Path]:
    """Return every month's file of an area, or of all, by area and month."""
    return sorted((archive / TRENDS).glob(f"{area}/[0-9][0-9][0-9][0-9]-[0-9][0-9].parquet"))


def superseded_path(archive: Path, source: str, area: str, month: str) -> Path:
    """Return the file of what the delivery `source` displaced in that month."""
    return archive / SUPERSEDED / source / f"{area}-{month}.parquet"


def refused_path(archive: Path, source: str) -> Path:
    """Return the file of what could not be read of the delivery `source`."""
    return archive / REFUSED / f"{source}.csv"
