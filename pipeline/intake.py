"""Intake: exports in, archive out; each file is read once, and every reading of it is accounted for."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Literal

from pipeline.archive.journal import recover
from pipeline.archive.ledger import Delivery, read_ledger
from pipeline.archive.lock import writing
from pipeline.archive.refused import unknown_tags
from pipeline.archive.store import Parcel, store
from pipeline.config.load import Plant
from pipeline.errors import Fault, RefusedError
from pipeline.ingest.clean import export_names
from pipeline.ingest.export import SOURCE_DIGITS, digest, read_export

_NO_EXPORT = re.compile(r"\.|~\$|thumbs\.db$|desktop\.ini$", re.IGNORECASE)
PENDING_READINGS = 4_000_000
"""Readings held before they are merged: bounds the memory a large batch takes."""


@dataclass(frozen=True)
class Outcome:
    """What became of one file.

    Parameters
    ----------
    file : str
        Relative to the plant's folder where it lies in it.
    status : {"read", "known", "refused"}
        `known`: the same content was read before, under whatever name.
    delivery : Delivery or None
        Its ledger line; None for a refused file.
    fault : Fault or None
        Why it was refused.
    """

    file: str
    status: Literal["read", "known", "refused"]
    delivery: Delivery | None = None
    fault: Fault | None = None


@dataclass(frozen=True)
class Intake:
    """What became of every file, in the order in which they were taken in."""

    outcomes: tuple[Outcome, ...]

    @property
    def deliveries(self) -> tuple[Delivery, ...]:
        """Ledger lines that this run added."""
        return tuple(one.delivery for one in self.outcomes if one.status == "read" and one.delivery)

    @property
    def faults(self) -> tuple[Fault, ...]:
        """Why files were refused."""
        return tuple(one.fault for one in self.outcomes if one.fault)

    def total(self, count: Literal["read", "stored", "known", "superseded", "refused"]) -> int:
        """Sum of one of the ledger's counts over this run."""
        return sum(int(getattr(delivery, count)) for delivery in self.deliveries)

    @property
    def exit_status(self) -> int:
        """0, or 3 where a file or some of its readings were refused."""
        return RefusedError.exit_status if self.faults or self.total("refused") else 0


def take_in(plant: Plant, files: Sequence[Path] | None = None, now: datetime | None = None) -> Intake:
    """Read exports into the archive.

    Parameters
    ----------
    plant : Plant
        Whose.
    files : sequence of Path, optional
        Which, in this order; by default every file in the plant's trends folder, by name.
    now : datetime, optional
        For the ledger; by default the present.

    Raises
    ------
    BusyError
        Another run is writing this archive.
    """
    read_at = now or datetime.now(UTC).replace(microsecond=0)
    paths = exports(plant) if files is None else list(files)
    with writing(plant.archive):
        recover(plant.archive)
        batch = _Batch(plant, read_at)
        for path in paths:
            batch.add(path)
        batch.flush()
    return Intake(tuple(batch.outcomes))


def exports(plant: Plant) -> list[Path]:
    """Return every file in the plant's trends folder and below, sorted.

    Hidden files, a spreadsheet's lock files and what Windows leaves in folders are no exports.
    """
    folder = plant.folder / plant.file.exports.trends
    return sorted(path for path in folder.rglob("*") if path.is_file() and not _NO_EXPORT.match(path.name))


class _Batch:
    """Files read and not yet merged, and what became of those before them."""

    def __init__(self, plant: Plant, read_at: datetime) -> None:
        self.plant = plant
        self.read_at = read_at
        self.outcomes: list[Outcome] = []
        self.pending: list[Parcel] = []
        self.known = {delivery.sha256: delivery for delivery in read_ledger(plant.archive)}

    def add(self, path: Path) -> None:
        """Read one file; merge the batch when it has grown large."""
        file = _name(path, self.plant.folder)
        try:
            data = _bytes_of(path, file)
            sha256 = digest(data)
            source = self._source(sha256)
            if source is None:
                self.outcomes.append(Outcome(file, "known", self.known.get(sha256)))
                return
            export = read_export(data, file, source, self.plant)
        except RefusedError as error:
            self.outcomes.append(Outcome(file, "refused", fault=error.fault))
            return
        self.outcomes.append(Outcome(file, "read"))
        self.pending.append(
            Parcel(source, file, sha256, len(data), export.layout, export.readings, export.refused)
        )
        if sum(parcel.readings.height for parcel in self.pending) >= PENDING_READINGS:
            self.flush()

    def flush(self) -> None:
        """Merge what is pending and fill in its ledger lines."""
        if not self.pending:
            return
        areas = {tag.tag: tag.area for tag in self.plant.tags.values()}
        deliveries = store(self.plant.archive, self.pending, areas, self.read_at)
        self.pending.clear()
        self.known |= {delivery.sha256: delivery for delivery in deliveries}
        lines = {delivery.file: delivery for delivery in deliveries}
        self.outcomes = [
            replace(one, delivery=lines[one.file]) if one.status == "read" and one.file in lines else one
            for one in self.outcomes
        ]

    def _source(self, sha256: str) -> str | None:
        """Name a delivery; None where the same content was read before and has nothing new to give.

        A file some of whose tags were unknown is read once more when the config has come to know them;
        the second reading is a delivery of its own.
        """
        source = sha256[:SOURCE_DIGITS]
        if any(parcel.sha256 == sha256 for parcel in self.pending):
            return None
        before = self.known.get(sha256)
        if before is None:
            return source
        if not before.refused or not self._knows_now(before.source):
            return None
        number = int(before.source.partition("-")[2] or 1) + 1
        return f"{source}-{number}"

    def _knows_now(self, source: str) -> bool:
        return not unknown_tags(self.plant.archive, source).isdisjoint(export_names(self.plant))


def _name(path: Path, folder: Path) -> str:
    """Return the path as the ledger shows it."""
    absolute, root = path.resolve(), folder.resolve()
    return absolute.relative_to(root).as_posix() if absolute.is_relative_to(root) else absolute.as_posix()


def _bytes_of(path: Path, file: str) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        problem = f"the file cannot be opened ({error.strerror})"
        raise RefusedError(file, problem, "check its name and who may read it") from error
