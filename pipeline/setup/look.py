"""Look: exports read as `ingest` reads them, before there is a config: files in, layout and text out."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import polars as pl

from pipeline.errors import Fault, RefusedError
from pipeline.ingest.forms import Order
from pipeline.ingest.identify import identify
from pipeline.ingest.opener import Member, is_container, opened
from pipeline.ingest.orders import refuse_mixed_dates
from pipeline.ingest.slabs import slabs_of
from pipeline.setup.rows import refuse_unnamed_tags

NOT_UTF8 = "cp1252"
"""How bytes that are not UTF-8 are read: the default of ``[reading] encoding``."""

MOST_BYTES = 64 * 2**20
"""Of a longer file only so much is looked at: a month of a plant is enough to draft from."""


@dataclass(frozen=True)
class Look:
    """One export, cut into cells.

    Parameters
    ----------
    file : str
        As people know it.
    layout : str
        Name of the layout that read it.
    header : tuple of str
        Its first line.
    delimiter : str
        What the cells are split at.
    when_header : str
        What the time column is called.
    order_said : {"month_first", "day_first"} or None
        What the header spells out.
    zone_letters : str or None
        What the header calls the zone of its times, in lower case.
    one_time_a_line : bool
        What the layout says of itself.
    raw : DataFrame of RAW
        Every reading as text.
    broken : DataFrame of REFUSED
        Lines that could not be cut into cells.
    """

    file: str
    layout: str
    header: tuple[str, ...]
    delimiter: str
    when_header: str
    order_said: Order | None
    zone_letters: str | None
    one_time_a_line: bool
    raw: pl.DataFrame
    broken: pl.DataFrame


def look(paths: Iterable[Path], now: datetime | None = None) -> tuple[list[Look], list[Fault]]:
    """Read every export; what cannot be read is among the faults and costs the others nothing.

    Parameters
    ----------
    paths : iterable of Path
        Files.
    now : datetime, optional
        Tells years of two digits that stand first.
    """
    looks: list[Look] = []
    faults: list[Fault] = []
    for path in paths:
        try:
            members = opened(_bytes_of(path), path.as_posix())
        except RefusedError as error:
            faults.append(error.fault)
            continue
        for member in members:
            try:
                looks.append(_look(member, now))
            except RefusedError as error:
                faults.append(error.fault)
    return looks, faults


def _bytes_of(path: Path) -> bytes:
    """Return the file, of a very long one whole lines of its beginning."""
    try:
        with path.open("rb") as stream:
            packed = is_container(stream.read(8))
            stream.seek(0)
            return stream.read() if packed else next(slabs_of(stream, False, MOST_BYTES)).data
    except OSError as error:
        problem = f"the file cannot be opened ({error.strerror})"
        raise RefusedError(path.as_posix(), problem, "check its name and who may read it") from error


def _look(member: Member, now: datetime | None) -> Look:
    if member.fault:
        fault = member.fault
        raise RefusedError(fault.file, fault.problem, fault.remedy, fault.row)
    layout, module, sheet = identify(member.data, member.name, NOT_UTF8)
    raw, broken = module.read(sheet)
    if raw.is_empty():
        raise RefusedError(member.name, _why_nothing(broken), "export it again, or name another")
    head = sheet.head
    refuse_mixed_dates(raw["when"], member.name, head.order_said, now)
    if module.ONE_TIME_A_LINE:
        refuse_unnamed_tags(raw, member.name)
    when = ", ".join(head.header[place] for place in head.when_columns)
    once = module.ONE_TIME_A_LINE
    said = head.order_said, head.zone_letters
    return Look(member.name, layout, head.header, head.delimiter, when, *said, once, raw, broken)


def _why_nothing(broken: pl.DataFrame) -> str:
    if broken.is_empty():
        return "the file has no readings"
    line, reason = broken.select("line", "reason").row(0)
    return f"none of its readings can be used; the first is in line {line}: {reason}"
