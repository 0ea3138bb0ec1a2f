"""Pages: the files of a folder that are read, however their names are written; a workbook is told."""

from fnmatch import fnmatch
from pathlib import Path

from pipeline.errors import Fault

_WORKBOOKS = (".xlsx", ".xlsm", ".xls", ".ods")


def pages(folder: Path, pattern: str) -> list[Path]:
    """Return the files whose names fit a pattern, great letters or small; the folder may be missing."""
    return sorted(path for path in _files(folder) if fnmatch(path.name.lower(), pattern))


def workbooks(folder: Path, *patterns: str) -> list[Fault]:
    """Tell of workbooks in the place of tables; not of one whose sheet is saved as CSV beside it."""
    saved = {path.stem.lower() for path in pages(folder, "*.csv")}
    found = [
        path
        for path in _files(folder)
        if path.suffix.lower() in _WORKBOOKS
        and path.name[0] not in "~."
        and path.stem.lower() not in saved
        and any(fnmatch(f"{path.stem.lower()}.csv", pattern) for pattern in patterns)
    ]
    problem = "this is a workbook, and nothing of it is read"
    return [
        Fault(
            f"{folder.name}/{path.name}", None, None, problem, f"save its sheet as {path.stem}.csv beside it"
        )
        for path in sorted(found)
    ]


def _files(folder: Path) -> list[Path]:
    return [path for path in folder.iterdir() if path.is_file()] if folder.is_dir() else []
