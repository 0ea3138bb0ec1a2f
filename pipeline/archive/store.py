"""Store: a batch of deliveries goes into the archive whole, or is taken back whole by the next run."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import polars as pl

from pipeline.archive.areas import areas_of, note_areas
from pipeline.archive.journal import Unfinished, clear, note
from pipeline.archive.ledger import Delivery, read_ledger, write_ledger
from pipeline.archive.months import TALLY, merge
from pipeline.archive.parquet import read_readings, write_readings
from pipeline.archive.paths import month_path, superseded_path
from pipeline.archive.refused import write_refused
from pipeline.table import LONG, empty

Month = tuple[str, str]


@dataclass(frozen=True)
class Parcel:
    """One export on its way into the archive.

    Parameters
    ----------
    source, file, sha256, bytes, layout
        As in the ledger.
    readings : DataFrame of LONG
        In the order of the file, with `source` filled in.
    refused : DataFrame
        What could not be read, one row each; written as it is.
    """

    source: str
    file: str
    sha256: str
    bytes: int
    layout: str
    readings: pl.DataFrame
    refused: pl.DataFrame


def store(
    archive: Path, parcels: Sequence[Parcel], areas: Mapping[str, str], read_at: datetime
) -> list[Delivery]:
    """Merge a batch and enter it in the ledger; the caller holds the lock.

    Parameters
    ----------
    archive : Path
        Folder of the archive.
    parcels : sequence of Parcel
        In the order of delivery; none of them stands in the ledger.
    areas : mapping of str to str
        Area of each tag in the config; a tag that is stored already stays in its own.
    read_at : datetime
        For the ledger.

    Returns
    -------
    list of Delivery
        Their ledger lines.
    """
    readings = pl.concat([empty(LONG), *(parcel.readings for parcel in parcels)])
    places = areas_of(archive, areas, readings["tag"].unique())
    incoming = by_month(readings, places)
    note(archive, Unfinished(tuple(parcel.source for parcel in parcels), tuple(incoming)))
    tallies = [_store_month(archive, month, rows) for month, rows in incoming.items()]
    tally = pl.concat([empty(TALLY), *tallies]).group_by("source").agg(pl.exclude("source").sum())
    counts = {row["source"]: row for row in tally.iter_rows(named=True)}
    for parcel in parcels:
        write_refused(archive, parcel.source, parcel.file, parcel.refused)
    deliveries = [_delivery(parcel, counts.get(parcel.source, {}), read_at) for parcel in parcels]
    note_areas(archive, places)
    write_ledger(archive, [*read_ledger(archive), *deliveries])
    clear(archive)
    return deliveries


def by_month(readings: pl.DataFrame, areas: Mapping[str, str]) -> dict[Month, pl.DataFrame]:
    """Part LONG by area and UTC month, each part in the order of `readings`, the parts sorted."""
    tags = readings["tag"].unique().sort()
    area = readings["tag"].replace_strict(tags, [areas[tag] for tag in tags], return_dtype=pl.String)
    month = (readings["time"].dt.year() * 100 + readings["time"].dt.month()).alias("month")
    parted = readings.with_columns(area.alias("area"), month).partition_by(
        "area", "month", as_dict=True, include_key=False
    )
    named = {(str(area), f"{month // 100}-{month % 100:02d}"): rows for (area, month), rows in parted.items()}
    return dict(sorted(named.items()))


def _store_month(archive: Path, month: Month, incoming: pl.DataFrame) -> pl.DataFrame:
    """Merge one month; what is displaced is safe before the month is swapped."""
    path = month_path(archive, *month)
    merged = merge(read_readings(path) if path.exists() else empty(LONG), incoming)
    displaced = merged.superseded.partition_by("displaced_by", as_dict=True)
    for (source,), rows in sorted(displaced.items()):
        write_readings(superseded_path(archive, str(source), *month), rows)
    if merged.tally["stored"].sum() or merged.tally["superseded"].sum():
        write_readings(path, merged.month)
    return merged.tally


def _delivery(parcel: Parcel, counts: Mapping[str, int], read_at: datetime) -> Delivery:
    times = parcel.readings["time"]
    refused = parcel.refused.height
    return Delivery(
        source=parcel.source,
        file=parcel.file,
        sha256=parcel.sha256,
        bytes=parcel.bytes,
        layout=parcel.layout,
        read=parcel.readings.height + refused,
        stored=counts.get("stored", 0),
        known=counts.get("known", 0),
        superseded=counts.get("superseded", 0),
        refused=refused,
        first_time=times.min() if len(times) else None,  # type: ignore[arg-type]
        last_time=times.max() if len(times) else None,  # type: ignore[arg-type]
        read_at=read_at,
    )
