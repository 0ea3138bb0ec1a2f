"""Slips: lab results that may be slips of the pen; they are kept, and said."""

from collections.abc import Iterator
from datetime import datetime, timedelta

from pipeline.config.load import Plant
from pipeline.config.tags import Tag
from pipeline.errors import Fault
from pipeline.logbook import lab
from pipeline.logbook.lines import Line, read_table

BEYOND_SPAN = 0.5
"""Share of the span by which a result of the bench may lie outside it (common practice, no source)."""
BEFORE_RECORD = timedelta(days=366)
"""How long before the first reading a result may be dated (common practice, no source)."""


def slips(plant: Plant, first: datetime | None) -> list[Fault]:
    """Return what somebody should look at in the plant's lab files; `first` is when its record begins."""
    found: list[Fault] = []
    early: dict[str, list[Line]] = {}

    def look(line: Line) -> None:
        found.extend(_beyond_span(line, lab.tag_of(line, plant.tags)))
        if first is not None and line.time("time") < first - BEFORE_RECORD:
            early.setdefault(line.file, []).append(line)

    folder = plant.folder / plant.file.exports.lab
    order = plant.file.reading.date_order
    # What cannot be read is refused, and told, where the results themselves are read.
    read_table(lab.files(folder), lab.SCHEMA, lab.NEEDED, look, plant.zone, order)
    return [*found, *(_early(lines, first) for lines in early.values() if first)]


def _beyond_span(line: Line, tag: Tag) -> Iterator[Fault]:
    if tag.low is None or tag.high is None:
        return
    value, room = lab.value_of(line, tag), BEYOND_SPAN * (tag.high - tag.low)
    if not tag.low - room <= value <= tag.high + room:
        problem = f"{value:g} {tag.unit} lies far outside the span of {tag.tag}, {tag.low:g} to {tag.high:g}"
        yield Fault(line.file, line.row, "value", problem, "correct the value or its unit, or let it stand")


def _early(lines: list[Line], first: datetime) -> Fault:
    line, more = lines[0], len(lines) - 1
    others = f" (and in {more} more row{'s' if more > 1 else ''})" if more else ""
    problem = f"{line.text('time')!r}{others} is more than a year before the first reading ({first:%Y-%m-%d})"
    return Fault(line.file, line.row, "time", problem, "correct the year, or let it stand")
