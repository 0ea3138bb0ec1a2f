"""Looks: what the file system says of an export, and whether it is still being written.

A file is still being written when its size or time changed between two looks, or when its last line has no
end and it was touched only seconds ago. A file that is merely new is read at once.
"""

import os
from os import SEEK_END, stat_result
from pathlib import Path
from time import time
from typing import BinaryIO

from pipeline.errors import Fault, RefusedError
from pipeline.ingest.opener import is_container

SETTLE_SECONDS = 5
"""A file whose last line has no end and that was touched within this time is still being written."""


def file_name(path: Path, folder: Path) -> str:
    """Return the path as the ledger shows it."""
    absolute, root = path.resolve(), folder.resolve()
    return absolute.relative_to(root).as_posix() if absolute.is_relative_to(root) else absolute.as_posix()


def files_below(folder: Path, root: Path) -> tuple[list[Path], list[Fault]]:
    """Return every file in a folder and below it, sorted, and why parts of it cannot be looked into."""
    faults: list[Fault] = []

    def note(error: OSError) -> None:
        problem = f"the folder cannot be read ({error.strerror})"
        remedy = "check its name, in config/plant.toml, [exports], too, and who may read it"
        faults.append(Fault(file_name(Path(error.filename), root), None, None, problem, remedy))

    found = [Path(above) / name for above, _, names in os.walk(folder, onerror=note) for name in names]
    return sorted(path for path in found if path.is_file()), faults


def open_export(path: Path, file: str) -> BinaryIO:
    """Open an export; a RefusedError names it as `file`."""
    if path.is_dir():
        remedy = "name the files in it; without any, `stillwell ingest` reads the export folders"
        raise RefusedError(file, "this is a folder", remedy)
    try:
        return path.open("rb")
    except OSError as error:
        problem = f"the file cannot be opened ({error.strerror})"
        raise RefusedError(file, problem, "check its name and who may read it") from error


def bytes_of(path: Path, file: str, count: int) -> bytes:
    """Return the first `count` bytes of an export; -1 = all."""
    with open_export(path, file) as stream:
        return stream.read(count)


def look_at(path: Path) -> stat_result | None:
    """Return what the file system says of a file; None where there is none."""
    try:
        return path.stat()
    except OSError:
        return None


def has_changed(path: Path, look: stat_result) -> bool:
    """Whether a file is no longer what it was at an earlier look."""
    now = look_at(path)
    return now is None or (now.st_size, now.st_mtime_ns) != (look.st_size, look.st_mtime_ns)


def is_being_written(path: Path, look: stat_result) -> bool:
    """Whether a file changed since the first look, or its last line was begun seconds ago and has no end."""
    if has_changed(path, look):
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
