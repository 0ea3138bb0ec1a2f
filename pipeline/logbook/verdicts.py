"""Verdicts: what people found out about a finding; the last word on it stands last."""

from datetime import date, tzinfo
from pathlib import Path

import polars as pl

from pipeline.errors import Fault
from pipeline.logbook.lines import Line, UnreadableError, read_table
from pipeline.logbook.moments import Order
from pipeline.logbook.pages import pages
from pipeline.logbook.sheets import sheets
from pipeline.table import VERDICTS

SCHEMA = VERDICTS
FILE = "verdicts.csv"
NEEDED = ("finding_id", "verdict")
WORDS = ("confirmed", "dismissed", "process")


def read(folder: Path, zone: tzinfo, order: Order | None = None) -> tuple[pl.DataFrame, list[Fault]]:
    """Read ``verdicts.csv`` and the filled-in field sheets of the logbook folder.

    Parameters
    ----------
    folder : Path
        The logbook folder; it, or the file, may be missing.
    zone : tzinfo
        The plant's.
    order : {"month_first", "day_first"}, optional
        Of dates with slashes.

    Returns
    -------
    frame : DataFrame of VERDICTS
        In the order of the files; `time` is null where none was written. A line of a field sheet
        without an answer says nothing.
    faults : list of Fault
        Lines left out: no finding's id, an unknown verdict, no time.
    """
    told, faults = read_table(pages(folder, FILE), SCHEMA, NEEDED, _verdict, zone, order)
    filled, more = read_table(sheets(folder), SCHEMA, NEEDED, _answer, zone, order)
    return pl.concat([told, filled]), [*faults, *more]


def _answer(line: Line) -> dict[str, object] | None:
    return _verdict(line) if line.text("verdict") else None


def _verdict(line: Line) -> dict[str, object]:
    told: dict[str, object] = {
        "finding_id": line.needed("finding_id"),
        "verdict": line.one_of("verdict", WORDS),
        "by": line.text("by"),
        "time": line.time("time") if line.text("time") else None,
        "note": line.text("note"),
    }
    if not _is_an_id(line.text("finding_id")):
        remedy = "copy it from the page or from findings.csv, for instance AIT-1.drift.2026-11-09"
        raise UnreadableError("finding_id", f"{line.text('finding_id')!r} is the id of no finding", remedy)
    return told


def _is_an_id(text: str) -> bool:
    """Whether it is made as the ids of findings are: tag, kind and day, parted by points."""
    *tag, kind, day = ("", "", *text.split("."))
    try:
        date.fromisoformat(day)
    except ValueError:
        return False
    return bool(kind and "".join(tag))
