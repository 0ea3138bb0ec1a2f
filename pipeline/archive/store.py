"""Store: a batch of deliveries goes into the archive whole, or is taken back whole by the next run."""

from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import polars as pl

from pipeline.archive.areas import note_areas, read_areas
from pipeline.archive.atomic import replace_file
from pipeline.archive.cargo import Cargo, Month, frames
from pipeline.archive.journal import Unfinished, clear, note
from pipeline.archive.ledger import Delivery, read_ledger, write_ledger
from pipeline.archive.load import Load, Times, by_tag
from pipeline.archive.months import SUPERSEDED, Tally, merge_tag, yielding
from pipeline.archive.parquet import Groups, reading, write_readings
from pipeline.archive.paths import month_path, superseded_path
from pipeline.archive.refused import write_refused
from pipeline.table import LONG, empty

_WRITERS = 3
"""Months written side by side: each is packed by one processor, and waits now and then for the disk."""


@dataclass(frozen=True)
class Parcel:
    """One export on its way into the archive.

    Parameters
    ----------
    source, file, sha256, bytes, layout
        As in the ledger.
    cargo : Cargo
        What was read of it and what was refused.
    """

    source: str
    file: str
    sha256: str
    bytes: int
    layout: str
    cargo: Cargo


def store(archive: Path, parcels: Sequence[Parcel], read_at: datetime) -> list[Delivery]:
    """Merge a batch and enter it in the ledger; the caller holds the lock.

    Parameters
    ----------
    archive : Path
        Folder of the archive.
    parcels : sequence of Parcel
        In the order of delivery; none of them stands in the ledger. One whose content does was read once
        more: it counts as delivered when it was first, so that what came later goes on standing.
    read_at : datetime
        For the ledger.

    Returns
    -------
    list of Delivery
        Their ledger lines.
    """
    ledger = read_ledger(archive)
    parcels, later = _in_place(parcels, ledger)
    months = sorted({month for parcel in parcels for month in parcel.cargo.months})
    note(archive, Unfinished(tuple(parcel.source for parcel in parcels), tuple(months), read_areas(archive)))
    counts = {parcel.source: Tally() for parcel in parcels}
    areas: dict[str, str] = {}
    with ThreadPoolExecutor(_WRITERS) as writers:
        stored = writers.map(lambda month: _store_month(archive, month, parcels, later), months)
        for month, tallies in zip(months, stored, strict=True):
            for tag, source, tally in tallies:
                counts[source] += tally
                areas[tag] = month[0]
    for parcel in parcels:
        write_refused(archive, parcel.source, parcel.file, frames(parcel.cargo.refusals))
    deliveries = [_delivery(parcel, counts[parcel.source], read_at) for parcel in parcels]
    note_areas(archive, areas)
    write_ledger(archive, [*ledger, *deliveries])
    clear(archive)
    return deliveries


def _in_place(
    parcels: Sequence[Parcel], ledger: Sequence[Delivery]
) -> tuple[list[Parcel], dict[str, set[str]]]:
    """Put parcels in the order of first delivery; tell for each that was read before what came after it."""
    first: dict[str, int] = {}
    for place, line in enumerate(ledger):
        first.setdefault(line.sha256, place)
    again = [parcel for parcel in parcels if parcel.sha256 in first]
    later = {
        parcel.source: {line.source for line in ledger if first[line.sha256] > first[parcel.sha256]}
        for parcel in again
    }
    return sorted(parcels, key=lambda parcel: first.get(parcel.sha256, len(ledger))), later


def _store_month(
    archive: Path, month: Month, parcels: Sequence[Parcel], later: Mapping[str, set[str]]
) -> list[tuple[str, str, Tally]]:
    """Merge one month, tag by tag; what is displaced is safe before the month is swapped.

    Returns
    -------
    list of tuple
        Tag, source, and what became of that delivery's rows of the tag.
    """
    path = month_path(archive, *month)
    tallies: list[tuple[str, str, Tally]] = []

    def write(temporary: Path) -> bool:
        superseded = [empty(SUPERSEDED)]
        incoming = _by_tag(month, parcels)
        with reading(path) as stored, Groups(temporary, list(LONG)) as groups:
            for tag in sorted(stored.places.keys() | incoming.keys()):
                if tag not in incoming:
                    groups.copy(stored.read_group(tag))
                    continue
                before = stored.read_group(tag) if tag in stored.places else None
                load = incoming.pop(tag)
                alone = load.alone() if before is None else None
                if alone is not None:
                    groups.add_load(tag, load.source, alone)
                    tallies.append((tag, load.source, Tally(stored=len(alone.time))))
                    continue
                rows, beaten = yielding(before, load.rows(tag), later)
                tallies.extend((tag, source, tally) for source, tally in beaten.items())
                if rows.is_empty():
                    groups.copy(stored.read_group(tag))
                    continue
                merged = merge_tag(before, rows)
                groups.add(merged.month)
                superseded.append(merged.superseded)
                tallies.extend((tag, source, tally) for source, tally in merged.tally.items())
        _store_superseded(archive, month, pl.concat(superseded))
        return any(tally.stored or tally.superseded for _, _, tally in tallies)

    replace_file(path, write)
    return tallies


def _by_tag(month: Month, parcels: Sequence[Parcel]) -> dict[str, Load]:
    """Return what comes in for each tag, in the order of delivery."""
    loads: dict[str, Load] = {}
    times = Times()
    for parcel in parcels:
        for rows in frames(parcel.cargo.months.get(month, [])):
            for tag, run in by_tag(rows):
                loads.setdefault(tag, Load(times)).add(parcel.source, run)
    return loads


def _store_superseded(archive: Path, month: Month, rows: pl.DataFrame) -> None:
    if rows.is_empty():
        return
    for (source,), displaced in sorted(rows.partition_by("displaced_by", as_dict=True).items()):
        write_readings(superseded_path(archive, str(source), *month), displaced.select(*SUPERSEDED))


def _delivery(parcel: Parcel, tally: Tally, read_at: datetime) -> Delivery:
    cargo = parcel.cargo
    return Delivery(
        source=parcel.source,
        file=parcel.file,
        sha256=parcel.sha256,
        bytes=parcel.bytes,
        layout=parcel.layout,
        read=cargo.readings + cargo.refused,
        stored=tally.stored,
        known=tally.known,
        superseded=tally.superseded,
        refused=cargo.refused,
        first_time=cargo.first_time,
        last_time=cargo.last_time,
        read_at=read_at,
    )
