"""Intake: exports in, archive out; each file is read once, and every reading of it is accounted for.

What is still being written is left for the next run.
"""

import errno
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Literal

from pipeline.archive.cargo import sweep
from pipeline.archive.journal import recover
from pipeline.archive.ledger import Delivery
from pipeline.archive.lock import writing
from pipeline.batch import Again, Batch, Outcome, Progress, Tell
from pipeline.config.load import Plant
from pipeline.errors import Fault, RefusedError, StillwellError
from pipeline.looks import files_below, look_at

_NO_EXPORT = re.compile(r"\.|~\$|thumbs\.db$|desktop\.ini$", re.IGNORECASE)


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
    paths, faults = exports(plant) if files is None else (list(files), [])
    looks = [look_at(path) for path in paths]
    with writing(plant.archive):
        sweep(plant.archive)
        recover(plant.archive)
        anew: Again = ("named" if files is not None else "refused") if again else "no"
        batch = Batch(plant, read_at, anew, Progress(tell, sum(look.st_size for look in looks if look)))
        try:
            for path, look in zip(paths, looks, strict=True):
                batch.add(path, look)
            batch.finish()
        except OSError as error:
            raise _taken_back(plant.archive, error) from error
        finally:
            sweep(plant.archive)
    unread = (Outcome(fault.file, "refused", fault=fault) for fault in faults)
    return Intake((*batch.outcomes, *unread))


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


def exports(plant: Plant) -> tuple[list[Path], list[Fault]]:
    """Return every file in the plant's trends folder and below, sorted, and which folders cannot be read.

    Hidden files, a spreadsheet's lock files and what Windows leaves in folders are no exports.
    """
    found, faults = files_below(plant.folder / plant.file.exports.trends, plant.folder)
    return [path for path in found if not _NO_EXPORT.match(path.name)], faults
