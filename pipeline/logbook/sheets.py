"""Sheets: filled-in field sheets, which say in one line what was found and what came of the suspicion.

Each report writes ``field-sheet.csv`` with the instruments of its list. Filled in and saved in the logbook
folder, under any name that begins with ``field-sheet``, it is read as calibrations and as verdicts.
"""

from pathlib import Path

from pipeline.logbook.lines import Line
from pipeline.logbook.pages import pages

PATTERN = "field-sheet*.csv"
MEASURED = ("as_found", "cleaned", "as_left", "reference", "reference_after")


def sheets(folder: Path) -> list[Path]:
    """Return the field sheets of a logbook folder, by name; the folder may be missing."""
    return pages(folder, PATTERN)


def is_visited(line: Line) -> bool:
    """Tell whether somebody was there: a line with neither a time nor a number is still to be done."""
    return any(line.text(name) for name in ("time", *MEASURED))
