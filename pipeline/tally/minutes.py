"""Minutes: time outside a limit, added up over a stretch or on end."""

from dataclasses import dataclass, replace

import numpy as np

from pipeline.assess import excursions, minutes_in
from pipeline.clock import Period
from pipeline.config.limits import Limit
from pipeline.episodes import Held, Ints, minutes_beyond
from pipeline.epoch import instant_of
from pipeline.margin import LOWEST_COVERAGE_PCT, sides
from pipeline.record import Record, coverage_pct
from pipeline.result import Bounds, Excursion, LimitResult
from pipeline.tally.averages import Average, unrounded
from pipeline.tally.decide import named, outside_of, result

_MINUTE_US = 60_000_000.0


def minutes_outside(record: Record, limit: Limit, span: Period) -> LimitResult:
    """Return the time known to be outside within a stretch [min], held against the limit's ``allow``.

    Every minute outside counts; ``min_minutes`` and ``merge_minutes`` shape the episodes that are
    listed, not the sum.
    """
    part = record.held.between(span.start, span.end)
    total = sum(minutes_beyond(part, number, side) for number, side in sides(limit))
    allow = limit.allow or 0.0
    found = excursions(record, limit, span)
    covered = coverage_pct(record, span.start, span.end)
    unknown = part.minutes - part.known_minutes
    value = total if part.known_minutes else None
    note = f"{unknown:.0f} min without a good reading" if unknown >= 1 else ""
    told = result(
        record,
        unrounded(limit),
        span,
        Average(value, covered, 0),
        bounds=Bounds(high=allow, width=allow),
        unit="min",
        rule=outside_of(limit),
        note=note,
        is_final=True,
    )
    return replace(
        told,
        minutes_outside=total,
        longest_minutes=max((minutes_in(record, one, span) for one in found), default=0.0),
        excursions=tuple(_allowed(found, told, span)),
    )


def _allowed(found: list[Excursion], told: LimitResult, span: Period) -> list[Excursion]:
    """Return the episodes; of an allowance that was kept, each says how much of it was used."""
    if told.status not in ("within", "near"):
        return found
    so_far = ", so far" if told.so_far else ""
    used = f"{told.value:.0f} of {told.high:g} min, {named(span)}{so_far}"
    return [replace(one, allowance=used) for one in found]


@dataclass(frozen=True)
class _Run:
    """Time on end in which the record was not seen inside: stretches `first` to `last` outside."""

    first: int
    last: int
    minutes: float
    possible_minutes: float
    side: int
    number: float


def longest(record: Record, limit: Limit, period: Period) -> LimitResult:
    """Return the longest time on end without a reading inside [min], held against the limit's ``allow``."""
    allow = limit.allow or 0.0
    held = record.held
    runs = [run for number, side in sides(limit) for run in _runs(held, number, side)]
    here = [run for run in runs if _touches(held, run, period)]
    value = max((run.minutes for run in here), default=0.0)
    possible = max((run.possible_minutes for run in here), default=0.0)
    covered = coverage_pct(record, period.start, period.end)
    if value <= allow < possible:
        # It broke off outside: nobody knows whether it came back in time.
        covered = min(covered, np.nextafter(LOWEST_COVERAGE_PCT, 0.0).item())
    known = record.held.between(period.start, period.end).known_minutes > 0
    told = result(
        record,
        unrounded(limit),
        period,
        Average(value if known else None, covered, len(here)),
        bounds=Bounds(high=allow, width=allow),
        unit="min",
        rule=f"on end {outside_of(limit)}",
        note="may have lasted longer: the record breaks off outside" if value <= allow < possible else "",
        is_final=True,
    )
    outside = [run for run in here if run.minutes > allow]
    return replace(
        told,
        minutes_outside=sum(run.minutes for run in outside),
        longest_minutes=value,
        coverage_pct=coverage_pct(record, period.start, period.end),
        excursions=tuple(sorted((_excursion(record, limit, run) for run in outside), key=lambda e: e.start)),
    )


def _runs(held: Held, number: float, side: int) -> list[_Run]:
    beyond = side * (held.value - number)
    kind = np.select([~np.isfinite(beyond), beyond > 0], [-1, 1], 0)
    lasting = np.append(0.0, np.cumsum(held.end - held.start)) / _MINUTE_US
    inside = np.flatnonzero(kind == 0)
    found = []
    for first, after in _between(np.flatnonzero(kind == 1), inside, len(kind)):
        out = first + np.flatnonzero(kind[first:after] == 1)
        last = int(out[-1])
        minutes = float(lasting[last + 1] - lasting[first])
        found.append(_Run(first, last, minutes, float(lasting[after] - lasting[first]), side, number))
    return found


def _between(outside: Ints, back: Ints, length: int) -> list[tuple[int, int]]:
    """Return (first stretch outside, first stretch inside after it) of every run."""
    found: list[tuple[int, int]] = []
    end = -1
    for at in outside.tolist():
        if at < end:
            continue
        following = int(np.searchsorted(back, at))
        end = int(back[following]) if following < len(back) else length
        found.append((at, end))
    return found


def _touches(held: Held, run: _Run, period: Period) -> bool:
    return instant_of(held.end[run.last]) > period.start and instant_of(held.start[run.first]) < period.end


def _excursion(record: Record, limit: Limit, run: _Run) -> Excursion:
    held = record.held
    part = slice(run.first, run.last + 1)
    minutes = (held.end[part] - held.start[part]) / _MINUTE_US
    beyond = run.side * (held.value[part] - run.number)
    outside = beyond > 0
    at = run.first + int(np.argmax(np.where(outside, beyond, -np.inf)))
    return Excursion(
        limit,
        instant_of(held.start[run.first]),
        instant_of(held.end[run.last]),
        float(minutes[outside].sum()),
        float(held.value[at]),
        instant_of(held.start[at]),
        float((minutes * np.where(outside, beyond, 0.0)).sum()),
        record.case.tag.unit,
        minutes_unknown=run.minutes - float(minutes[outside].sum()),
        open_end=run.possible_minutes > run.minutes,
    )
