"""Atomic: a file is there whole or not at all, even after a power cut."""

import os
from collections.abc import Callable
from pathlib import Path

PART = ".*.part"
"""Temporary files look like this; only a killed run leaves one."""


def replace_file(path: Path, write: Callable[[Path], object]) -> None:
    """Write `path` through a temporary file beside it.

    Parameters
    ----------
    path : Path
        Where the file is to stand; its folder is made.
    write : callable
        Writes the content to the path it is given; where it returns False, what stood at `path` stands.

    Notes
    -----
    On failure the temporary file is removed and what stood at `path` still stands.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    temporary = path.with_name(f".{path.name}.part")
    try:
        if write(temporary) is False:
            temporary.unlink()
            return
        _sync(temporary)
        temporary.replace(path)
    except BaseException:
        temporary.unlink(missing_ok=True)
        raise
    sync_folder(path.parent)


def replace_text(path: Path, text: str) -> None:
    """Write `text` as UTF-8 with LF line ends."""
    replace_file(path, lambda temporary: _write_bytes(temporary, text.encode()))


def remove_file(path: Path) -> None:
    """Remove `path`, if it is there, for good."""
    if path.exists():
        path.unlink()
        sync_folder(path.parent)


def sync_folder(folder: Path) -> None:
    """Make the folder's entries last; Windows does that by itself and cannot open folders."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _write_bytes(path: Path, content: bytes) -> None:
    path.write_bytes(content)


def _sync(path: Path) -> None:
    with path.open("rb+") as file:
        os.fsync(file.fileno())
