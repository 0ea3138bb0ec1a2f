"""Slips: lab results that may be slips of the pen; they are kept, and said."""

from collections.abc import Iterator
from datetime import datetime, timedelta

from pipeline.config.tags import Tag
from pipeline.errors import Fault
from pipeline.logbook import lab
from pipeline.logbook.lines import Line

BEYOND_SPAN = 0.5
"""Share of the span by which a result of the bench may lie outside it (common practice, no source)."""
BEFORE_RECORD = timedelta(days=366)
"""How long before the first reading a result may be dated (common practice, no source)."""


class Slips:
    """Looks at the results as they are read; `first` is when the plant's record begins."""

    def __init__(self, first: datetime | None) -> None:
        self.first = first
        self._beyond: list[Fault] = []
        self._early: dict[str, list[Line]] = {}

    def look(self, line: Line, tag: Tag) -> None:
        """Look at one line of a lab file."""
        self._beyond.extend(_beyond_span(line, tag))
        if self.first is not None and line.time("time") < self.first - BEFORE_RECORD:
            self._early.setdefault(line.file, []).append(line)

    @property
    def found(self) -> list[Fault]:
        """What somebody should look at."""
        return [*self._beyond, *(_early(lines, self.first) for lines in self._early.values() if self.first)]


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
