"""Seen: large files by size and time of last change, so that a known one need not be read to be known.

A cache: nothing but time is lost with it, and it stands outside the accounting.
"""

import csv
from collections.abc import Mapping
from io import StringIO
from pathlib import Path

from pipeline.archive.atomic import replace_text

FILE = ".seen.csv"
LARGE_BYTES = 4 * 2**20
"""Smaller files are read sooner than looked up."""

_COLUMNS = ("file", "bytes", "changed_ns", "sha256")
Look = tuple[str, int, int]
"""File, size and time of last change [ns since 1970]."""


def read_seen(archive: Path) -> dict[Look, str]:
    """Return the SHA-256 of what was seen; anything that is no such line is passed over."""
    path = archive / FILE
    if not path.exists():
        return {}
    seen: dict[Look, str] = {}
    for row in csv.reader(StringIO(path.read_text(encoding="utf-8", errors="replace"), newline="")):
        if len(row) == len(_COLUMNS) and row[1].isdecimal() and row[2].isdecimal():
            seen[row[0], int(row[1]), int(row[2])] = row[3]
    return seen


def write_seen(archive: Path, seen: Mapping[Look, str]) -> None:
    """Keep the newest look at each file."""
    newest = {file: (file, size, changed, sha256) for (file, size, changed), sha256 in seen.items()}
    text = StringIO(newline="")
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(_COLUMNS)
    writer.writerows(newest[file] for file in sorted(newest))
    replace_text(archive / FILE, text.getvalue())
