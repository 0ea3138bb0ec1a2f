"""Calibrations: what an instrument showed before and after each service."""

from collections.abc import Collection
from datetime import tzinfo
from pathlib import Path

import polars as pl

from pipeline.errors import Fault
from pipeline.logbook.lines import Line, UnreadableError, read_table
from pipeline.logbook.moments import Order
from pipeline.logbook.pages import pages
from pipeline.logbook.sheets import MEASURED, is_visited, sheets
from pipeline.table import CALIBRATIONS

SCHEMA = CALIBRATIONS
FILE = "calibrations.csv"
NEEDED = ("instrument", "time")
KINDS = ("calibration", "cleaning", "replacement", "check")


def read(
    folder: Path, zone: tzinfo, instruments: Collection[str], order: Order | None = None
) -> tuple[pl.DataFrame, list[Fault]]:
    """Read ``calibrations.csv`` and the filled-in field sheets of the logbook folder.

    Parameters
    ----------
    folder : Path
        The logbook folder; it, or the file, may be missing.
    zone : tzinfo
        The plant's.
    instruments : collection of str
        Those of config/instruments.csv.
    order : {"month_first", "day_first"}, optional
        Of dates with slashes.

    Returns
    -------
    frame : DataFrame of CALIBRATIONS
        By instrument and time; a blank kind is a calibration. A date alone is its midnight. The same
        line in two files counts once, and a line of a field sheet that is still to be done not at all.
    faults : list of Fault
        Lines left out: unknown instrument or kind, no number, no time.
    """

    def row(line: Line) -> dict[str, object] | None:
        return _service(line, instruments) if is_visited(line) else None

    log, faults = read_table(
        pages(folder, FILE), SCHEMA, NEEDED, lambda line: _service(line, instruments), zone, order
    )
    filled, more = read_table(sheets(folder), SCHEMA, NEEDED, row, zone, order)
    frame = pl.concat([log, filled]).unique(maintain_order=True)
    return frame.sort("instrument", "time", maintain_order=True), [*faults, *more]


def _service(line: Line, instruments: Collection[str]) -> dict[str, object]:
    instrument = line.needed("instrument")
    if instrument not in instruments:
        remedy = "use an instrument of config/instruments.csv or add it there"
        raise UnreadableError("instrument", f"no instrument {instrument!r}", remedy)
    return {
        "instrument": instrument,
        "time": line.time("time"),
        "kind": line.one_of("kind", KINDS) if line.text("kind") else KINDS[0],
        **{name: line.number(name) for name in MEASURED},
        **{name: line.text(name) for name in ("by", "note")},
    }
