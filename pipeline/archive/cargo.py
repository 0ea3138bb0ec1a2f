"""Cargo: a delivery's readings on their way, parted by area and month; too much for memory waits on disk."""

import shutil
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from math import isnan
from pathlib import Path

import numpy as np
import polars as pl

from pipeline.table import readings_in

Month = tuple[str, str]
"""Area and UTC month (``2026-11``)."""

_FEW_MONTHS = 8

WAITING = ".waiting"
"""Folder for what waits; it is made anew by every run."""


@dataclass
class Cargo:
    """What was read of one file.

    Parameters
    ----------
    areas : mapping of str to str
        Area of each tag.
    folder : Path
        Where what is too much for memory waits.
    """

    areas: Mapping[str, str]
    folder: Path
    readings: int = 0
    refused: int = 0
    first_time: datetime | None = None
    last_time: datetime | None = None
    held: int = 0
    months: dict[Month, list[pl.DataFrame | Path]] = field(default_factory=dict)
    refusals: list[pl.DataFrame | Path] = field(default_factory=list)
    _waiting: int = 0

    def add(self, readings: pl.DataFrame) -> None:
        """Take on readings (`packed`, or LONG), which follow those before them in the file."""
        if readings.is_empty():
            return
        self.readings += readings.height
        self.held += readings.height
        self._span(readings["time"])
        for month, parts in by_month(readings, self.areas).items():
            self.months.setdefault(month, []).extend(parts)

    def add_plain(self, plain: pl.DataFrame) -> None:
        """Take on good readings that are numbers and no more: times [UTC] first, then a column a tag.

        The times increase; a tag is NaN where it has no reading.
        """
        time, values = plain.to_series(0), plain.drop(plain.columns[0])
        counts = {column.name: readings_in(column) for column in values}
        if not any(counts.values()):
            return
        self.readings += sum(counts.values())
        self.held += sum(counts.values())
        full = next(row for row in range(plain.height) if _has_readings(values, row))
        empty = next(row for row in range(plain.height) if _has_readings(values, -1 - row))
        self._span(time[full : plain.height - empty])
        months, place = _months(time)
        ends = np.searchsorted(place, np.arange(len(months)), side="right").tolist()
        for area in sorted({self.areas[tag] for tag, count in counts.items() if count}):
            tags = sorted(tag for tag, count in counts.items() if count and self.areas[tag] == area)
            for month, start, end in zip(months, [0, *ends], ends, strict=False):
                part = plain.select(plain.columns[0], *tags)[start:end]
                if len(part) == len(time) or any(readings_in(part[tag]) for tag in tags):
                    self.months.setdefault((area, month), []).append(part)

    def _span(self, times: pl.Series) -> None:
        first, last = times.min(), times.max()
        assert isinstance(first, datetime) and isinstance(last, datetime)
        self.first_time = min(self.first_time or first, first)
        self.last_time = max(self.last_time or last, last)

    def refuse(self, rows: pl.DataFrame) -> None:
        """Take on rows that could not be read."""
        if not rows.is_empty():
            self.refused += rows.height
            self.held += rows.height
            self.refusals.append(rows)

    def unload(self) -> None:
        """Let everything wait on disk."""
        self.folder.mkdir(parents=True, exist_ok=True)
        for parts in (self.refusals, *self.months.values()):
            for place, part in enumerate(parts):
                if isinstance(part, pl.DataFrame):
                    path = self.folder / f"{self._waiting}.arrow"
                    part.write_ipc(path, compression="lz4")
                    self._waiting += 1
                    parts[place] = path
        self.held = 0

    def clear(self) -> None:
        """Drop everything."""
        for parts in (self.refusals, *self.months.values()):
            for part in parts:
                if isinstance(part, Path):
                    part.unlink()
        self.readings = self.refused = self.held = 0
        self.first_time = self.last_time = None
        self.months.clear()
        self.refusals.clear()


def _has_readings(values: pl.DataFrame, row: int) -> bool:
    return not all(isnan(value) for value in values.row(row))


def frames(parts: list[pl.DataFrame | Path]) -> Iterator[pl.DataFrame]:
    """Yield parts one by one, in order, from memory or disk."""
    for part in parts:
        yield pl.read_ipc(part.read_bytes()) if isinstance(part, Path) else part


def sweep(archive: Path) -> None:
    """Remove what a run that was cut short left waiting."""
    shutil.rmtree(archive / WAITING, ignore_errors=True)


def by_month(readings: pl.DataFrame, areas: Mapping[str, str]) -> dict[Month, list[pl.DataFrame]]:
    """Part readings by area and UTC month, each part sorted by tag, else in their order; the months sorted.

    Parameters
    ----------
    readings : DataFrame
        `packed`, or LONG. `quality` and `raw` are left out where all are good and plain numbers; where the
        times of each tag increase, such readings make a part of their own, before the others.
    areas : mapping of str to str
        Area of each tag.
    """
    if readings.is_empty():
        return {}
    tags = sorted(areas)
    if readings.schema["tag"] != pl.Enum(tags):
        readings = readings.with_columns(pl.col("tag").cast(pl.Enum(tags)))
    by_area = sorted(range(len(tags)), key=lambda place: (areas[tags[place]], tags[place]))
    months, month = _months(readings["time"])
    names = [(areas[tags[place]], name) for name in months for place in by_area]
    kind = np.uint16 if len(names) < 2**16 else np.int64
    rank = np.empty(len(tags), kind)
    rank[by_area] = np.arange(len(tags))
    code = month.astype(kind) * np.array(len(tags), kind) + rank[readings["tag"].to_physical().to_numpy()]
    parts: dict[Month, list[pl.DataFrame]] = {}
    for rows, number in _plain_and_others(readings, code):
        for name, start, end in _runs(names, number):
            parts.setdefault(name, []).append(rows[start:end])
    return dict(sorted(parts.items()))


def _plain_and_others(readings: pl.DataFrame, code: np.ndarray) -> list[tuple[pl.DataFrame, np.ndarray]]:
    """Sort by `code`, and part what is good and a plain number from the rest if order does not matter."""
    plain = readings.select("tag", "time", "value")
    odd = (readings["quality"].to_physical() > 0).to_numpy() | readings["raw"].is_not_null().to_numpy()
    order = None if (code[1:] >= code[:-1]).all() else np.argsort(code, kind="stable")
    if not odd.any():
        return [(plain, code) if order is None else (plain[order], code[order])]
    order = np.arange(len(code)) if order is None else order
    time, number = readings["time"].to_numpy()[order], code[order]
    if not ((time[1:] > time[:-1]) | (number[1:] > number[:-1])).all():
        return [(readings[order], number)]
    ordered = odd[order]
    both = ((plain, order[~ordered]), (readings, order[ordered]))
    return [(rows[at], code[at]) for rows, at in both if len(at)]


def _runs(names: list[Month], code: np.ndarray) -> list[tuple[Month, int, int]]:
    """Return where each month of an area starts and ends among rows sorted by `code`."""
    starts = np.append(0, np.flatnonzero(code[1:] != code[:-1]) + 1)
    runs: dict[Month, tuple[int, int]] = {}
    for start, end in zip(starts.tolist(), [*starts[1:].tolist(), len(code)], strict=True):
        name = names[code[start]]
        runs[name] = (runs.get(name, (start, end))[0], end)
    return [(name, start, end) for name, (start, end) in runs.items()]


def _months(times: pl.Series) -> tuple[list[str], np.ndarray]:
    """Return the UTC months that `times` span, and the place of each of `times` among them."""
    first, last = times.min(), times.max()
    assert isinstance(first, datetime) and isinstance(last, datetime)
    count = (last.year - first.year) * 12 + last.month - first.month + 1
    begins = np.datetime64(f"{first:%Y-%m}", "M") + np.arange(count)
    starts = begins.astype("datetime64[us]").view(np.int64)
    number = times.to_numpy().view(np.int64)
    if len(starts) > _FEW_MONTHS:
        place = np.searchsorted(starts, number, side="right") - 1
    else:
        place = np.zeros(len(number), np.uint16)
        for start in starts[1:]:
            place += number >= start
    return [str(month) for month in begins], place
