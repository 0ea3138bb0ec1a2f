"""Errors: one family, each a sentence that says what is wrong, where, and what to do."""

import errno
from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, order=True)
class Fault:
    """One thing wrong in one place of an input.

    Parameters
    ----------
    file : str
        File as the reader knows it, for instance ``config/tags.csv``.
    row : int or None
        Line of the file, counted from 1; None when it concerns the whole file.
    column : str or None
        Column or key; None when it concerns the whole row.
    problem, remedy : str
        What is wrong; what to do about it.
    """

    file: str
    row: int | None
    column: str | None
    problem: str
    remedy: str

    def __str__(self) -> str:
        where = self.file
        if self.row is not None:
            where += f", row {self.row}"
        if self.column is not None:
            where += f", column {self.column}"
        return f"{where}: {self.problem}; {self.remedy}"


class StillwellError(Exception):
    """Anything we can explain; `exit_status` is what the command ends with."""

    exit_status = 2


class UsageError(StillwellError):
    """The command asks for something that is not there."""


class ConfigError(StillwellError):
    """Every fault found in a plant's config, gathered."""

    def __init__(self, faults: Sequence[Fault]) -> None:
        self.faults = sorted(faults, key=lambda f: (f.file, f.row or 0, f.column or "", f.problem))
        super().__init__("\n".join(str(fault) for fault in self.faults))


class RefusedError(StillwellError):
    """One export or logbook file that cannot be read; the others go on."""

    exit_status = 3

    def __init__(self, file: str, problem: str, remedy: str, row: int | None = None) -> None:
        self.fault = Fault(file, row, None, problem, remedy)
        super().__init__(str(self.fault))


class BusyError(StillwellError):
    """Another run holds the archive."""


def of_the_system(error: OSError) -> UsageError | None:
    """Return what to tell of a file that the system does not let us use; None where that explains nothing."""
    kinds = (PermissionError, IsADirectoryError, NotADirectoryError, FileExistsError)
    if not isinstance(error, kinds) and error.errno != errno.EROFS:
        return None
    where = f"{error.filename}: {error.strerror}" if error.filename else str(error)
    remedy = "see who may read and write it, and that nothing else stands in its place"
    return UsageError(f"{where}; {remedy}")
