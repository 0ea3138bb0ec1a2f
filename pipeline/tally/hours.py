"""Hours: what was measured in each hour, and the log inactivation that it came to.

Within an hour the worst of each input counts: the highest flow, the lowest level, residual and temperature,
the highest pH. An hour of which less than three quarters of any input is known, or whose pH lies outside
the table, has no value; an hour in which no water flows asks for none. Segments add up.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from pipeline.calculations import ct, virus_log
from pipeline.case import Case
from pipeline.config.disinfection import Segment
from pipeline.disinfection.contact import MOST_GIARDIA_LOGS, giardia_logs
from pipeline.disinfection.giardia import required_ct
from pipeline.disinfection.virus import MOST_LOGS
from pipeline.episodes import Floats, Held, Ints
from pipeline.epoch import epoch_us, instant_of, merged
from pipeline.margin import LOWEST_COVERAGE_PCT
from pipeline.record import Contact, sound
from pipeline.units import conversion

HOUR_US = 3_600_000_000


def contacts(segments: Iterable[Segment], cases: Mapping[str, Case]) -> tuple[Contact, ...]:
    """Return the segments with the records of their tags, in the units they are reckoned in."""
    return tuple(
        Contact(
            segment,
            {what: _in_unit(cases[name], unit) for what, (name, unit) in segment.units.items()},
        )
        for segment in segments
    )


def _in_unit(case: Case, unit: str) -> Held:
    record = sound(case)
    factor, offset = conversion(case.tag.unit, unit)
    return Held(record.start, record.end, record.value * factor + offset)


def marks_of(days: Sequence[tuple[datetime, datetime]]) -> Ints:
    """Return every full hour of days on end [microseconds since 1970, UTC], the last midnight with them."""
    edges = [(epoch_us(start), epoch_us(end)) for start, end in days]
    hours = [np.arange(start, end, HOUR_US, dtype=np.int64) for start, end in edges]
    return np.concatenate([*hours, np.array([edges[-1][1]], np.int64)])


@dataclass(frozen=True)
class Hours:
    """One input hour by hour: extremes and mean of what is known, and how much that is.

    Parameters
    ----------
    low, high, mean : (n,) arrays
        NaN where less than three quarters of the hour's time in service is known.
    is_due : (n,) array of bool
        Whether any of the hour was in service.
    """

    low: Floats
    high: Floats
    mean: Floats
    is_due: NDArray[np.bool_]


def hourly(whole: Held, marks: Ints) -> Hours:
    """Return a record between consecutive `marks` [microseconds since 1970, UTC]."""
    count = len(marks) - 1
    record = whole.between(instant_of(marks[0]), instant_of(marks[-1]))
    edges = merged(record.start, record.end, marks)
    begin, lasts = edges[:-1], np.diff(edges)
    row = np.searchsorted(record.start, begin, side="right") - 1
    on_axis = (row >= 0) & (begin < record.end[np.maximum(row, 0)]) if len(record.end) else begin < 0
    hour, lasts = np.searchsorted(marks, begin[on_axis], side="right") - 1, lasts[on_axis]
    value = record.value[row[on_axis]]
    known = np.isfinite(value)
    due = np.bincount(hour, lasts, count)
    told = np.bincount(hour[known], lasts[known], count)
    low, high = np.full(count, np.inf), np.full(count, -np.inf)
    np.minimum.at(low, hour[known], value[known])
    np.maximum.at(high, hour[known], value[known])
    total = np.bincount(hour[known], lasts[known] * value[known], count)
    enough = (due > 0) & (100.0 * told >= LOWEST_COVERAGE_PCT * due)
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = np.where(enough, total / told, np.nan)
    return Hours(np.where(enough, low, np.nan), np.where(enough, high, np.nan), mean, due > 0)


@dataclass(frozen=True)
class Profile:
    """Log inactivation hour by hour.

    Parameters
    ----------
    start : (n,) array of int [microseconds since 1970, UTC]
    logs : (n,) array [log]
        Capped at what the table reaches; NaN where an input is missing or outside the table.
    flow : (n,) array [gpm]
        Mean flow through the last segment.
    is_due : (n,) array of bool
        Whether water flowed, or may have: an hour of unknown flow is due.
    """

    start: Ints
    logs: Floats
    flow: Floats
    is_due: NDArray[np.bool_]


def profile(of: Sequence[Contact], marks: Ints, is_virus: bool) -> Profile:
    """Return the inactivation of all segments together for each hour between `marks`."""
    parts, flow = [], np.zeros(len(marks) - 1)
    is_due = np.zeros(len(marks) - 1, bool)
    for contact in of:
        hours = {what: hourly(record, marks) for what, record in contact.inputs.items()}
        flow = hours["flow"].mean
        # A flow of which nothing is known may have been one.
        is_due = hours["flow"].is_due & ~(hours["flow"].high <= 0)
        parts.append(_segment_logs(contact.segment, hours, is_virus))
    most = MOST_LOGS if is_virus else MOST_GIARDIA_LOGS
    logs = np.minimum(np.sum(parts, axis=0), most) if parts else np.full(len(marks) - 1, np.nan)
    return Profile(marks[:-1], logs, flow, is_due)


def _segment_logs(segment: Segment, hours: Mapping[str, Hours], is_virus: bool) -> Floats:
    flow, residual = hours["flow"].high, hours["residual"].low
    temperature, ph = hours["temperature"].low, hours["ph"].high
    # The lowest pH matters where it leaves the table on the other side.
    inside = hours["ph"].low >= 6.0
    value = ct.calculate(residual, volume_gal(segment, hours), flow, segment.baffling_factor)
    if is_virus:
        # Giardia's table ends at pH 9, and no credit is taken where one of the two has none.
        logs = np.where(ph <= 9.0, virus_log.calculate(value, temperature, ph), np.nan)
    else:
        logs = giardia_logs([value / required_ct(temperature, ph, residual, segment.method)])
    return np.where(inside, logs, np.nan)


def volume_gal(segment: Segment, hours: Mapping[str, Hours]) -> Floats:
    """Return the water in a segment at its lowest level of each hour [gal]."""
    if segment.gallons is not None:
        return np.full(len(hours["flow"].high), segment.gallons)
    level = np.maximum(hours["level"].low, 0.0)
    return segment.gallons_at_zero + level * (segment.gallons_per_foot or 0.0)
