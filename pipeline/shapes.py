"""Shapes: every tag's departures from its usual course, a byte a quarter hour, kept beside the archive.

``archive/.shapes/<quarter>-<key>.parquet`` holds a column a tag. It is a cache: it may be deleted, and is
made again. The key is a digest of all that a quarter rests on: the deliveries and maintenance windows that
reach into it or the months before it, the tags and states of the config. Another key, another file.
"""

import hashlib
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline import __version__
from pipeline.archive.atomic import replace_file
from pipeline.archive.ledger import Delivery, read_ledger
from pipeline.archive.trends import first_and_last
from pipeline.config.load import Plant
from pipeline.gather import records
from pipeline.logbook.book import Logbook
from pipeline.upsets.grid import Grid, departures_of, grid_between
from pipeline.upsets.usual import LOOK_BACK_DAYS

Tenths = NDArray[np.int8]

FOLDER = ".shapes"
UNKNOWN = -128
LOOK_BACK = timedelta(days=LOOK_BACK_DAYS)
_RECIPE = "2"
"""Changed whenever departures are computed otherwise."""


@dataclass(frozen=True)
class Shapes:
    """Departures of some tags over a stretch of time.

    Parameters
    ----------
    grid : Grid
    tags : tuple of str
    tenths : (tags, n) array of int8 [0.1 sd]
        `UNKNOWN` where nothing is known.
    """

    grid: Grid
    tags: tuple[str, ...]
    tenths: Tenths

    def sd(self, tag: str) -> NDArray[np.float64]:
        """Departures of one tag [sd]; NaN where not known."""
        row = self.tenths[self.tags.index(tag)]
        return np.where(row == UNKNOWN, np.nan, row * 0.1)

    def between(self, start: datetime, end: datetime) -> "Shapes":
        """Return the part between two instants."""
        first, last = (min(max(self.grid.at(edge), 0), self.grid.count) for edge in (start, end))
        return Shapes(Grid(self.grid.time(first), last - first), self.tags, self.tenths[:, first:last])


@dataclass(frozen=True)
class _Quarter:
    label: str
    start: datetime
    end: datetime


@dataclass(frozen=True)
class _Basis:
    """What all quarters rest on: a digest of the config, and the ledger."""

    config: str
    deliveries: tuple[Delivery, ...]


def measured(plant: Plant) -> tuple[str, ...]:
    """Tags that have departures: all that measure something."""
    return tuple(name for name, tag in plant.tags.items() if not tag.is_state)


def shapes(
    plant: Plant,
    logbook: Logbook,
    tags: Collection[str],
    start: datetime | None = None,
    end: datetime | None = None,
) -> Shapes:
    """Return the departures of `tags` over the archive or a part of it.

    Quarters that are not there yet, or no longer true, are computed and kept.
    """
    wanted = tuple(name for name in measured(plant) if name in tags)
    known = first_and_last(plant.archive)
    if known is None:
        return Shapes(Grid(datetime(1970, 1, 1, tzinfo=UTC), 0), wanted, np.zeros((len(wanted), 0), np.int8))
    first, last = max(start or known[0], known[0]), min(end or known[1], known[1] + timedelta(minutes=15))
    basis = _basis(plant)
    parts = [_quarter(plant, logbook, basis, one, wanted) for one in _quarters(first, max(first, last))]
    tenths = np.concatenate([part.tenths for part in parts], axis=1)
    return Shapes(Grid(parts[0].grid.start, tenths.shape[1]), wanted, tenths).between(first, last)


def _quarters(first: datetime, last: datetime) -> Iterator[_Quarter]:
    begin, end = (when.astimezone(UTC) for when in (first, last))
    for number in range(begin.year * 4 + (begin.month - 1) // 3, end.year * 4 + (end.month - 1) // 3 + 1):
        edges = [datetime(k // 4, 3 * (k % 4) + 1, 1, tzinfo=UTC) for k in (number, number + 1)]
        yield _Quarter(f"{number // 4}-Q{number % 4 + 1}", edges[0], edges[1])


def _quarter(
    plant: Plant, logbook: Logbook, basis: _Basis, quarter: _Quarter, tags: tuple[str, ...]
) -> Shapes:
    grid = grid_between(quarter.start, quarter.end)
    path = plant.archive / FOLDER / f"{quarter.label}-{_key(basis, logbook, quarter)}.parquet"
    if not path.exists():
        _keep(path, quarter, _computed(plant, logbook, quarter, grid))
    held = set(pl.read_parquet_schema(path))
    frame = pl.read_parquet(path, columns=[name for name in tags if name in held], use_statistics=False)
    nothing = np.full(grid.count, UNKNOWN, np.int8)
    rows = [frame[name].to_numpy() if name in held else nothing for name in tags]
    return Shapes(grid, tags, np.stack(rows) if rows else np.zeros((0, grid.count), np.int8))


def _keep(path: Path, quarter: _Quarter, frame: pl.DataFrame) -> None:
    replace_file(path, lambda temporary: frame.write_parquet(temporary, compression="zstd", statistics=False))
    for stale in sorted(path.parent.glob(f"{quarter.label}-*.parquet")):
        if stale != path:
            stale.unlink()


def _computed(plant: Plant, logbook: Logbook, quarter: _Quarter, grid: Grid) -> pl.DataFrame:
    """Departures of every tag over a quarter, from its record and that of the months before."""
    begin = quarter.start - LOOK_BACK
    wide = grid_between(begin, quarter.end)
    since = wide.count - grid.count
    return pl.DataFrame(
        {
            name: in_tenths(departures_of(case, wide, since)[since:])
            for name, case in records(plant, logbook, begin, quarter.end, measured(plant))
        }
    )


def in_tenths(z: NDArray[np.float64]) -> Tenths:
    """Return departures [sd] as whole tenths."""
    return np.where(np.isfinite(z), np.round(np.nan_to_num(z) * 10.0), UNKNOWN).astype(np.int8)


def _basis(plant: Plant) -> _Basis:
    digest = hashlib.sha256(f"{_RECIPE} {__version__} {plant.file.time_zone}".encode())
    for part in (*plant.tags.values(), *plant.states.values()):
        digest.update(part.model_dump_json(exclude={"row"}).encode())
    return _Basis(digest.hexdigest(), tuple(read_ledger(plant.archive)))


def _key(basis: _Basis, logbook: Logbook, quarter: _Quarter) -> str:
    digest = hashlib.sha256(basis.config.encode())
    since = quarter.start - LOOK_BACK
    for one in basis.deliveries:
        if one.first_time and one.last_time and one.first_time < quarter.end and one.last_time >= since:
            digest.update(f"{one.source} {one.stored} {one.superseded}\n".encode())
    windows = logbook.maintenance.filter(
        (pl.col("start") < quarter.end) & (pl.col("end").is_null() | (pl.col("end") >= since))
    )
    digest.update(windows.select("subject", "start", "end").write_csv().encode())
    return digest.hexdigest()[:12]
