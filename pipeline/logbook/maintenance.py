"""Maintenance: windows in which an instrument, a tag or a whole area was being worked on."""

from collections.abc import Collection
from datetime import datetime, timedelta, tzinfo
from pathlib import Path

import polars as pl

from pipeline.errors import Fault
from pipeline.logbook.lines import Line, UnreadableError, read_table
from pipeline.logbook.moments import Order, has_clock
from pipeline.logbook.pages import pages
from pipeline.table import MAINTENANCE

SCHEMA = MAINTENANCE
FILE = "maintenance.csv"
NEEDED = ("subject", "start")


def read(
    folder: Path, zone: tzinfo, subjects: Collection[str], order: Order | None = None
) -> tuple[pl.DataFrame, list[Fault]]:
    """Read ``maintenance.csv`` of the logbook folder.

    Parameters
    ----------
    folder : Path
        The logbook folder; it, or the file, may be missing.
    zone : tzinfo
        The plant's.
    subjects : collection of str
        Instruments, tags and areas of the config.
    order : {"month_first", "day_first"}, optional
        Of dates with slashes.

    Returns
    -------
    frame : DataFrame of MAINTENANCE
        By start; `end` is null while the work goes on. A date alone as end means the end of that day.
    faults : list of Fault
        Lines left out: unknown subject, no time, an end before its start.
    """
    paths = pages(folder, FILE)
    frame, faults = read_table(paths, SCHEMA, NEEDED, lambda line: _window(line, subjects), zone, order)
    return frame.sort("start", "subject", maintain_order=True), faults


def _window(line: Line, subjects: Collection[str]) -> dict[str, object]:
    subject = line.needed("subject")
    if subject not in subjects:
        problem = f"{subject!r} is no instrument, tag or area of the config"
        raise UnreadableError("subject", problem, "correct the name")
    start, end = line.time("start"), _end(line)
    if end is not None and end < start:
        raise UnreadableError("end", "the end is before the start", "swap or correct them")
    return {"subject": subject, "start": start, "end": end, "by": line.text("by"), "note": line.text("note")}


def _end(line: Line) -> datetime | None:
    if not line.text("end"):
        return None
    end = line.time("end")
    if has_clock(line.text("end")):
        return end
    # The next local midnight, on a day of 23, 24 or 25 hours.
    local = end.astimezone(line.zone).replace(tzinfo=None) + timedelta(days=1)
    return local.replace(tzinfo=line.zone)
