"""Lab: grab samples and bench results, each in the unit of the tag it backs."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import datetime, timedelta, tzinfo
from pathlib import Path

import polars as pl

from pipeline.config.tags import Tag
from pipeline.errors import Fault
from pipeline.logbook.lines import TIME_REMEDY, Line, UnreadableError, read_table
from pipeline.logbook.moments import Order, has_clock
from pipeline.logbook.pages import pages, workbooks
from pipeline.table import GRABS
from pipeline.units import as_written, conversion

SCHEMA = GRABS
PATTERN = "*.csv"
NEEDED = ("tag", "time", "value")
FAST_CLOCK = timedelta(hours=1)
"""So far the bench's clock may be ahead: in summer, where ours or the plant's keeps standard time."""


def read(
    folder: Path,
    zone: tzinfo,
    tags: Mapping[str, Tag],
    order: Order | None = None,
    now: datetime | None = None,
    look: Callable[[Line, Tag], None] | None = None,
) -> tuple[pl.DataFrame, list[Fault]]:
    """Read every CSV of the lab folder.

    Parameters
    ----------
    folder : Path
        The lab folder; it may be missing.
    zone : tzinfo
        The plant's.
    tags : mapping of str to Tag
        The plant's tags by name.
    order : {"month_first", "day_first"}, optional
        Of dates with slashes.
    now : datetime, optional
        A result later than this cannot be.
    look : callable, optional
        Is shown every line that is kept, with its tag.

    Returns
    -------
    frame : DataFrame of GRABS
        By tag and time, each result once; `unit` is the tag's. Of ``<0.02`` the value is 0.02, `below` true.
    faults : list of Fault
        Lines left out: unknown tag, no number, no time of day, a unit of another kind, a time to come.
    """
    latest = None if now is None else now + FAST_CLOCK

    def row(line: Line) -> dict[str, object]:
        tag = _tag_of(line, tags)
        grab = _grab(line, tag, latest)
        if look:
            look(line, tag)
        return grab

    frame, faults = read_table(pages(folder, PATTERN), SCHEMA, NEEDED, row, zone, order)
    faults = [*workbooks(folder, PATTERN), *faults]
    return frame.unique(maintain_order=True).sort("tag", "time", maintain_order=True), faults


def _tag_of(line: Line, tags: Mapping[str, Tag]) -> Tag:
    tag = tags.get(line.needed("tag"))
    if tag is None:
        remedy = "use a tag of config/tags.csv or add it there"
        raise UnreadableError("tag", f"no tag {line.text('tag')!r}", remedy)
    return tag


def _grab(line: Line, tag: Tag, latest: datetime | None) -> dict[str, object]:
    if not has_clock(line.needed("time")):
        raise UnreadableError("time", f"{line.text('time')!r} has no time of day", TIME_REMEDY)
    time = line.time("time")
    if latest is not None and time > latest:
        raise UnreadableError("time", f"{line.text('time')!r} is still to come", "correct the date")
    return {
        "tag": tag.tag,
        "time": time,
        "value": value_of(line, tag),
        "below": line.text("value").startswith("<"),
        "unit": tag.unit,
        **{name: line.text(name) for name in ("method", "by", "note")},
    }


def value_of(line: Line, tag: Tag) -> float:
    """Return a line's result in the unit of its tag."""
    text = line.needed("value").removeprefix("<").strip()
    value = replace(line, cells={**line.cells, "value": text}).number("value")
    if value is None:
        raise UnreadableError("value", f"{line.text('value')!r} is not a number", "write it as <0.02")
    try:
        factor, offset = conversion(as_written(line.text("unit")) or tag.unit, tag.unit)
    except ValueError as error:
        raise UnreadableError("unit", str(error), f"write it in {tag.unit}, the unit of {tag.tag}") from None
    return value if (factor, offset) == (1.0, 0.0) else value * factor + offset
