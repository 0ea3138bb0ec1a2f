"""Intake: exports in, archive out; each file is read once, and every reading of it is accounted for.

A file that is still being written is left for the next run: its size or time changed between two looks, or
its last line has no end and it was touched only seconds ago. A file that is merely new is read at once.
"""

import errno
import re
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from io import BytesIO
from os import SEEK_END, stat_result
from pathlib import Path
from time import time, time_ns
from typing import BinaryIO, Literal

from pipeline.archive.areas import areas_of
from pipeline.archive.cargo import WAITING, Cargo, sweep
from pipeline.archive.journal import recover
from pipeline.archive.ledger import Delivery, read_ledger
from pipeline.archive.lock import writing
from pipeline.archive.refused import unknown_tags
from pipeline.archive.seen import LARGE_BYTES, read_seen, write_seen
from pipeline.archive.store import Parcel, store
from pipeline.config.load import Plant
from pipeline.errors import Fault, RefusedError, StillwellError
from pipeline.ingest.clean import Cleaned, export_names
from pipeline.ingest.export import SOURCE_DIGITS, digest_of, read_slabs
from pipeline.ingest.opener import is_container, opened

_NO_EXPORT = re.compile(r"\.|~\$|thumbs\.db$|desktop\.ini$", re.IGNORECASE)
PENDING_READINGS = 2_000_000
"""Readings of many files held before they are merged."""

HELD_READINGS = 8_000_000
"""Readings of one file held before they wait on disk."""

SETTLE_SECONDS = 5
"""A file whose last line has no end and that was touched within this time is still being written."""

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
    """

    file: str
    status: Literal["read", "known", "refused", "left"]
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


def take_in(
    plant: Plant,
    files: Sequence[Path] | None = None,
    now: datetime | None = None,
    again: bool = False,
    tell: Tell | None = None,
) -> Intake:
    """Read exports into the archive.

    Parameters
    ----------
    plant : Plant
        Whose.
    files : sequence of Path, optional
        Which, in this order; by default every file in the plant's trends folder, by name.
    now : datetime, optional
        For the ledger; by default the present. Readings more than a day later are refused.
    again : bool
        Read known files once more, for the config may know better now: those of which something was
        refused, or every one of `files`. Where a later delivery has spoken since, that one stands.
    tell : callable, optional
        Is told how far the work is.

    Raises
    ------
    BusyError
        Another run is writing this archive.
    StillwellError
        The disk is full; the archive is as it was.
    """
    read_at = now or datetime.now(UTC).replace(microsecond=0)
    paths = exports(plant) if files is None else list(files)
    looks = [_look(path) for path in paths]
    with writing(plant.archive):
        sweep(plant.archive)
        recover(plant.archive)
        anew: Again = ("named" if files is not None else "refused") if again else "no"
        batch = _Batch(plant, read_at, anew, _Progress(tell, sum(look.st_size for look in looks if look)))
        try:
            for path, look in zip(paths, looks, strict=True):
                batch.add(path, look)
            batch.finish()
        except OSError as error:
            raise _taken_back(plant.archive, error) from error
        finally:
            sweep(plant.archive)
    return Intake(tuple(batch.outcomes))


def _taken_back(archive: Path, error: OSError) -> Exception:
    """Take back what a full disk cut short; what else went wrong with it is not ours to explain."""
    # polars passes the system's error on as text alone.
    full = (errno.ENOSPC, errno.EDQUOT)
    if error.errno not in full and not any(f"(os error {number})" in str(error) for number in full):
        return error
    state = "the archive is as it was before the files that did not fit"
    try:
        sweep(archive)
        recover(archive)
    except OSError:
        state = "the next run puts the archive in order"
    return StillwellError(f"{archive}: the disk is full; {state}; free some space and run this again")


def exports(plant: Plant) -> list[Path]:
    """Return every file in the plant's trends folder and below, sorted.

    Hidden files, a spreadsheet's lock files and what Windows leaves in folders are no exports.
    """
    folder = plant.folder / plant.file.exports.trends
    return sorted(path for path in folder.rglob("*") if path.is_file() and not _NO_EXPORT.match(path.name))


@dataclass
class _Progress:
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
    progress: _Progress

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


class _Batch:
    """Files read and not yet merged, and what became of those before them."""

    def __init__(self, plant: Plant, read_at: datetime, again: Again, progress: _Progress) -> None:
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
        file = _name(path, self.plant.folder)
        try:
            if look and _is_being_written(path, look):
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
        if look is None or not is_container(_bytes_of(path, file, 8)):
            sha256 = self.seen.get((file, look.st_size, look.st_mtime_ns)) if look else None
            return [_Item(file, look.st_size if look else 0, lambda: _opened(path, file), sha256)]
        members = opened(_bytes_of(path, file, -1), file)
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
                    layout = read_slabs(stream, item.file, self.plant, loading, latest, self.progress.at)
            except RefusedError as error:
                loading.forget()
                self.outcomes.append(Outcome(item.file, "refused", fault=error.fault))
                return
            sha256 = digest.result()
        if look and _has_changed(path, look):
            loading.forget()
            self.outcomes.append(Outcome(item.file, "left"))
            return
        self._note(item, sha256, path, look)
        self.outcomes.append(Outcome(item.file, "read"))
        source = self._source(sha256) or sha256[:SOURCE_DIGITS]
        self.pending.append(Parcel(source, item.file, sha256, item.size, layout, cargo))

    def _may_be_known(self, size: int) -> bool:
        return any(delivery.bytes == size for delivery in self.known.values()) or any(
            parcel.bytes == size for parcel in self.pending
        )

    def _note(self, item: _Item, sha256: str, path: Path, look: stat_result | None) -> None:
        """Keep the look at a large file that has been left alone for a while."""
        if look is None or item.size < LARGE_BYTES or item.file != _name(path, self.plant.folder):
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
        if self.again != "named" and not (before.refused and self._is_due(before.source)):
            return None
        number = int(before.source.partition("-")[2] or 1) + 1
        return f"{source}-{number}"

    def _is_due(self, source: str) -> bool:
        """Whether to read once more what was refused of a delivery: told to, or its tags are known now."""
        learned = unknown_tags(self.plant.archive, source) & export_names(self.plant).keys()
        return self.again == "refused" or bool(learned)


def _name(path: Path, folder: Path) -> str:
    """Return the path as the ledger shows it."""
    absolute, root = path.resolve(), folder.resolve()
    return absolute.relative_to(root).as_posix() if absolute.is_relative_to(root) else absolute.as_posix()


def _opened(path: Path, file: str) -> BinaryIO:
    try:
        return path.open("rb")
    except OSError as error:
        problem = f"the file cannot be opened ({error.strerror})"
        raise RefusedError(file, problem, "check its name and who may read it") from error


def _bytes_of(path: Path, file: str, count: int) -> bytes:
    with _opened(path, file) as stream:
        return stream.read(count)


def _look(path: Path) -> stat_result | None:
    try:
        return path.stat()
    except OSError:
        return None


def _has_changed(path: Path, look: stat_result) -> bool:
    now = _look(path)
    return now is None or (now.st_size, now.st_mtime_ns) != (look.st_size, look.st_mtime_ns)


def _is_being_written(path: Path, look: stat_result) -> bool:
    """Whether a file changed since the first look, or its last line was begun seconds ago and has no end."""
    if _has_changed(path, look):
        return True
    if time() - look.st_mtime > SETTLE_SECONDS or not look.st_size:
        return False
    try:
        with path.open("rb") as stream:
            start = stream.read(8)
            stream.seek(-1, SEEK_END)
            return stream.read(1) not in b"\r\n\0\x1a" and not is_container(start)
    except OSError:
        return False
