"""Batch: exports read one after the other and merged together, each with what became of it."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from io import BytesIO
from os import stat_result
from pathlib import Path
from time import time_ns
from typing import BinaryIO, Literal

from pipeline.archive.again import said_again
from pipeline.archive.areas import areas_of
from pipeline.archive.cargo import WAITING, Cargo
from pipeline.archive.ledger import Delivery, read_ledger
from pipeline.archive.refused import unknown_tags
from pipeline.archive.seen import LARGE_BYTES, read_seen, write_seen
from pipeline.archive.store import Parcel, store
from pipeline.config.load import Plant
from pipeline.errors import Fault, RefusedError
from pipeline.ingest.channels import export_names
from pipeline.ingest.clean import Cleaned
from pipeline.ingest.export import SOURCE_DIGITS, digest_of, read_slabs
from pipeline.ingest.opener import is_container, opened
from pipeline.looks import bytes_of, file_name, has_changed, is_being_written, open_export

PENDING_READINGS = 2_000_000
"""Readings of many files held before they are merged."""

HELD_READINGS = 8_000_000
"""Readings of one file held before they wait on disk."""

_SURE_NS = 2_000_000_000
"""A file changed so lately may change again within the same tick of its clock: no look at it is kept."""

_LATEST = timedelta(days=1)
"""A reading later than the run by more than a wrong time zone can explain has a wrong clock."""

Again = Literal["no", "refused", "named"]
"""Which known files are read once more: none, those with refused readings, every one that was named."""

Tell = Callable[[int, int, int], None]
"""Is told of long work: bytes done, bytes in all, readings so far."""


@dataclass(frozen=True)
class Outcome:
    """What became of one file.

    Parameters
    ----------
    file : str
        Relative to the plant's folder where it lies in it.
    status : {"read", "known", "refused", "left"}
        `known`: the same content was read before, under whatever name. `left`: it is still being
        written.
    delivery : Delivery or None
        Its ledger line; None for a file that was refused or left.
    fault : Fault or None
        Why it was refused.
    remarks : tuple of str
        What its reader has to know of a file that was read.
    """

    file: str
    status: Literal["read", "known", "refused", "left"]
    delivery: Delivery | None = None
    fault: Fault | None = None
    remarks: tuple[str, ...] = ()


@dataclass
class Progress:
    """Adds up what is told of the work."""

    tell: Tell | None
    total: int
    done: int = 0
    readings: int = 0

    def at(self, place: int) -> None:
        """Tell that so many bytes of the present file are read."""
        if self.tell:
            self.tell(min(self.done + place, self.total), self.total, self.readings)

    def end(self, size: int) -> None:
        """Tell that the present file is done."""
        self.done += size
        self.at(0)


@dataclass
class _Loading:
    """Brings what is read of one file into its cargo."""

    cargo: Cargo
    progress: Progress

    def take(self, cleaned: Cleaned) -> None:
        if cleaned.plain is not None:
            self.cargo.add_plain(cleaned.plain)
        self.cargo.add(cleaned.readings)
        self.cargo.refuse(cleaned.refused)
        self.progress.readings += cleaned.count - cleaned.refused.height
        if self.cargo.held >= HELD_READINGS:
            self.cargo.unload()

    def forget(self) -> None:
        self.progress.readings -= self.cargo.readings
        self.cargo.clear()


@dataclass(frozen=True)
class _Item:
    """One export to be read: a file, or what was packed in one."""

    file: str
    size: int
    open: Callable[[], BinaryIO]
    sha256: str | None = None

    def digest(self) -> str:
        if self.sha256:
            return self.sha256
        with self.open() as stream:
            return digest_of(stream)


class Batch:
    """Files read and not yet merged, and what became of those before them."""

    def __init__(self, plant: Plant, read_at: datetime, again: Again, progress: Progress) -> None:
        self.plant, self.read_at, self.again, self.progress = plant, read_at, again, progress
        self.outcomes: list[Outcome] = []
        self.pending: list[Parcel] = []
        self.known = {delivery.sha256: delivery for delivery in read_ledger(plant.archive)}
        self.areas = areas_of(
            plant.archive, {tag.tag: tag.area for tag in plant.tags.values()}, plant.tags.keys()
        )
        self.before = read_seen(plant.archive)
        self.seen = dict(self.before)
        self.count = 0

    def add(self, path: Path, look: stat_result | None) -> None:
        """Read one file; merge the batch when it has grown large."""
        file = file_name(path, self.plant.folder)
        try:
            if look and is_being_written(path, look):
                self.outcomes.append(Outcome(file, "left"))
                return
            for item in self._items(path, file, look):
                self._read(item, path, look)
        except RefusedError as error:
            self.outcomes.append(Outcome(file, "refused", fault=error.fault))
        self.progress.end(look.st_size if look else 0)
        if sum(parcel.cargo.held for parcel in self.pending) >= PENDING_READINGS:
            self.flush()

    def _items(self, path: Path, file: str, look: stat_result | None) -> list[_Item]:
        """Return the file, or what is packed in it; parts that cannot be unpacked are refused at once."""
        if look is None or not is_container(bytes_of(path, file, 8)):
            sha256 = self.seen.get((file, look.st_size, look.st_mtime_ns)) if look else None
            return [_Item(file, look.st_size if look else 0, lambda: open_export(path, file), sha256)]
        mark = self.plant.file.reading.decimal_mark or "."
        members = opened(bytes_of(path, file, -1), file, mark)
        for member in members:
            if member.fault:
                self.outcomes.append(Outcome(member.name, "refused", fault=member.fault))
        return [
            _Item(member.name, len(member.data), lambda data=member.data: BytesIO(data))  # type: ignore[misc]
            for member in members
            if not member.fault
        ]

    def _read(self, item: _Item, path: Path, look: stat_result | None) -> None:
        """Read one export, and its digest beside it where its size says that it is new."""
        with ThreadPoolExecutor(1) as beside:
            digest = beside.submit(item.digest)
            if self._may_be_known(item.size) and self._source(digest.result()) is None:
                self._note(item, digest.result(), path, look)
                self.outcomes.append(Outcome(item.file, "known", self.known.get(digest.result())))
                return
            self.count += 1
            cargo = Cargo(self.areas, self.plant.archive / WAITING / str(self.count))
            loading = _Loading(cargo, self.progress)
            try:
                with item.open() as stream:
                    latest = self.read_at + _LATEST
                    understood = read_slabs(stream, item.file, self.plant, loading, latest, self.progress.at)
            except RefusedError as error:
                loading.forget()
                self.outcomes.append(Outcome(item.file, "refused", fault=error.fault))
                return
            sha256 = digest.result()
        if look and has_changed(path, look):
            loading.forget()
            self.outcomes.append(Outcome(item.file, "left"))
            return
        self._note(item, sha256, path, look)
        self.outcomes.append(Outcome(item.file, "read", remarks=understood.remarks))
        source = self._source(sha256) or sha256[:SOURCE_DIGITS]
        self.pending.append(Parcel(source, item.file, sha256, item.size, understood.layout, cargo))

    def _may_be_known(self, size: int) -> bool:
        return any(delivery.bytes == size for delivery in self.known.values()) or any(
            parcel.bytes == size for parcel in self.pending
        )

    def _note(self, item: _Item, sha256: str, path: Path, look: stat_result | None) -> None:
        """Keep the look at a large file that has been left alone for a while."""
        if look is None or item.size < LARGE_BYTES or item.file != file_name(path, self.plant.folder):
            return
        if time_ns() - look.st_mtime_ns > _SURE_NS:
            self.seen[item.file, look.st_size, look.st_mtime_ns] = sha256

    def finish(self) -> None:
        """Merge what is pending and keep what was seen."""
        self.flush()
        if self.seen != self.before:
            write_seen(self.plant.archive, self.seen)

    def flush(self) -> None:
        """Merge what is pending and fill in its ledger lines."""
        if not self.pending:
            return
        deliveries = store(self.plant.archive, self.pending, self.read_at)
        for parcel in self.pending:
            parcel.cargo.clear()
        self.pending.clear()
        self.known |= {delivery.sha256: delivery for delivery in deliveries}
        lines = {delivery.file: delivery for delivery in deliveries}
        self.outcomes = [
            self._delivered(one, lines[one.file]) if one.status == "read" and one.file in lines else one
            for one in self.outcomes
        ]

    def _delivered(self, one: Outcome, delivery: Delivery) -> Outcome:
        again = said_again(self.plant.archive, delivery)
        return replace(one, delivery=delivery, remarks=(*one.remarks, *again))

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
        if self.again != "named" and not (before.refused and self._is_due(before.source)):
            return None
        number = int(before.source.partition("-")[2] or 1) + 1
        return f"{source}-{number}"

    def _is_due(self, source: str) -> bool:
        """Whether to read once more what was refused of a delivery: told to, or its tags are known now."""
        learned = unknown_tags(self.plant.archive, source) & export_names(self.plant).keys()
        return self.again == "refused" or bool(learned)
