"""Truth: what is wrong and what really happened, written apart from the exports and never read by the job.

Excursions are read off the recorded numbers by one plain rule: a sample strictly beyond the limit is outside
and stands until the next one; start is the first stamp outside, end the first stamp back inside. Limits that
count over months, over pairs of records or by contact time are kept throughout the demo and have none.
"""

from collections.abc import Callable, Iterator
from datetime import datetime

import numpy as np
import polars as pl

from pipeline.demo.calendar import END, BoolArray, Calendar, FloatArray, stamp
from pipeline.demo.faults import scripted
from pipeline.demo.filters import NUMBERS, WASH
from pipeline.demo.papers import paper
from pipeline.demo.script import EXCURSIONS, OPERATIONS, Fault
from pipeline.demo.sheets import Sheets
from pipeline.demo.water import Signals
from pipeline.demo.weather import storm_list

FAULT_COLUMNS = (
    "fault_id", "tag", "instrument", "kind", "start", "end", "size_at_end", "rate_per_week", "unit", "note",
)  # fmt: skip
EXCURSION_COLUMNS = ("limit_id", "tag", "start", "end", "minutes", "worst", "cause")
OPERATION_COLUMNS = ("kind", "subject", "start", "end", "note")
DAILY: dict[str, Callable[[FloatArray], float]] = {
    "daily_mean": np.mean,
    "daily_min": np.min,
    "daily_max": np.max,
}


def fault_table(calendar: Calendar, sheets: Sheets, usual: dict[str, float]) -> pl.DataFrame:
    """Return one row a fault and tag, oldest first."""
    found = []
    for fault in scripted(calendar):
        for name in fault.tags:
            tag = sheets.tags[name]
            size = fault.size * usual[name] if fault.relative else fault.size
            size_text = f"{size:.3g}" if fault.kind in ("drift", "step") else ""
            rate_text = f"{size / _weeks(fault):.3g}" if fault.kind == "drift" else ""
            identity = fault.name if len(fault.tags) == 1 else f"{fault.name}-{name}"
            found.append((identity, name, tag.instrument, fault.kind, stamp(fault.start), stamp(fault.end),
                          size_text, rate_text, tag.unit, fault.note))  # fmt: skip
    return paper(found, FAULT_COLUMNS, lambda row: (row[4], row[0]))


def _weeks(fault: Fault) -> float:
    length = datetime.fromisoformat(fault.end) - datetime.fromisoformat(fault.start)
    return length.total_seconds() / 604_800.0


def excursion_table(
    calendar: Calendar, sheets: Sheets, recorded: Signals, valid: dict[str, BoolArray]
) -> pl.DataFrame:
    """Return every stretch in which a recorded, valid reading lies beyond a limit."""
    found: list[tuple[str, ...]] = []
    for limit in sheets.limits:
        if limit["statistic"] not in ("instantaneous", *DAILY):
            continue
        values = np.where(valid[limit["tag"]], recorded[limit["tag"]], np.nan)
        episodes = _spans if limit["period"] == "week" else _days
        for start, end, worst in episodes(calendar, limit, values):
            minutes = (end - start) * calendar.step_minutes
            begins, ends = _iso(calendar, start), _iso(calendar, end)
            cause = _cause(calendar, limit["tag"], start, end)
            worst_text = f"{worst:.{sheets.tags[limit['tag']].decimals}f}"
            found.append((limit["limit_id"], limit["tag"], begins, ends, str(minutes), worst_text, cause))
    return paper(found, EXCURSION_COLUMNS, lambda row: (row[2], row[0]))


def _outside(limit: dict[str, str], values: FloatArray) -> tuple[BoolArray, FloatArray]:
    """Return where `values` lie strictly beyond the limit, and how far [tag's unit]."""
    low = float(limit["low"] or -np.inf)
    high = float(limit["high"] or np.inf)
    beyond = np.fmax(low - values, values - high)
    return np.asarray(beyond > 0.0), beyond


def _spans(calendar: Calendar, limit: dict[str, str], values: FloatArray) -> Iterator[tuple[int, int, float]]:
    outside, beyond = _outside(limit, values)
    edges = np.flatnonzero(np.diff(outside.astype(np.int8), prepend=0, append=0))
    for start, end in zip(edges[::2], edges[1::2], strict=True):
        worst = start + int(np.argmax(beyond[start:end]))
        yield int(start), int(end), float(values[worst])


def _days(calendar: Calendar, limit: dict[str, str], values: FloatArray) -> Iterator[tuple[int, int, float]]:
    days = calendar.wall.astype("datetime64[D]")
    starts = np.flatnonzero(np.diff(days.astype(np.int64), prepend=0))
    for start, end in zip(starts, [*starts[1:], len(calendar)], strict=True):
        seen = values[start:end][~np.isnan(values[start:end])]
        if len(seen):
            statistic = float(DAILY[limit["statistic"]](seen))
            if _outside(limit, np.array([statistic]))[0][0]:
                yield int(start), int(end), statistic


def _cause(calendar: Calendar, tag: str, start: int, end: int) -> str:
    """Return why: the script's word for it, a storm, or an operation that touches it."""
    for excursion in EXCURSIONS:
        begins, ends = calendar.index(excursion.start), calendar.index(excursion.end)
        if excursion.tag == tag and begins - 2 <= end and start <= ends + 2:
            return excursion.cause
    for operation in OPERATIONS:
        if tag == "LIT-303" and operation.subject == "YS-311" and calendar.index(operation.start) < end:
            return operation.note
    day = calendar.steps(24.0)
    for storm in storm_list(calendar):
        if start - day <= calendar.index(storm.start) <= end:
            return "storm inflow"
    return "unexplained"


def operation_table(calendar: Calendar, recorded: Signals) -> pl.DataFrame:
    """Return what people and weather did that is no fault: washes, storms and the script's operations."""
    found = [
        (operation.kind, operation.subject, stamp(operation.start), stamp(operation.end), operation.note)
        for operation in OPERATIONS
        if calendar.covers(operation.start)
    ]
    for storm in storm_list(calendar):
        end = calendar.index(storm.start) + calendar.steps(storm.hours)
        note = f"about {storm.inches} in of rain"
        found.append(("storm", "plant", stamp(storm.start), _iso(calendar, end), note))
    for number in NUMBERS:
        washing = recorded[f"YS-12{number}"] == WASH
        edges = np.flatnonzero(np.diff(washing.astype(np.int8), prepend=0, append=0))
        for start, end in zip(edges[::2], edges[1::2], strict=True):
            found.append(("backwash", f"YS-12{number}", _iso(calendar, start), _iso(calendar, end), ""))
    return paper(found, OPERATION_COLUMNS, lambda row: (row[2], row[1]))


def _iso(calendar: Calendar, at: int) -> str:
    """Return a grid position as local ISO time with offset; the end of the record included."""
    if at >= len(calendar):
        return stamp(END)
    moment: datetime = calendar.local[int(at)]
    return moment.isoformat(timespec="seconds")
