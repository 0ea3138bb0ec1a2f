"""Episodes: exactly when a signal stood beyond a limit, and for how many known minutes.

A good reading stands until the next reading or until it is too old (the hold), whichever comes first;
all other time is unknown. Time in which the reading means nothing (a filter out of service, a probe in
maintenance) is taken off the time axis: it neither counts nor parts what lies on both sides of it.

* outside: the value lies strictly beyond the limit.
* An episode opens at the first instant outside and closes at the first instant back inside by at
  least the deadband; it ends at the last instant outside, so the deadband is not counted.
* Unknown time is never counted as outside. Up to `merge` of it is bridged and reported; more of it
  closes the episode, which is then open-ended: nobody knows when it was over.
* Episodes less than `merge` of known time apart are one; then those shorter than `min_minutes` go.
"""

from dataclasses import dataclass, field
from datetime import datetime, timedelta

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.epoch import MICROSECOND, epoch_us, merged

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

OUT, BAND, IN, UNKNOWN = 3, 2, 1, 0
_MINUTE_US = 60_000_000.0


@dataclass(frozen=True)
class Held:
    """A record turned into stretches of held value, masked time taken off.

    Parameters
    ----------
    start, end : (n,) arrays of int [microseconds since 1970, UTC]
        Ascending; masked time is the only time between one stretch's end and the next one's start.
    value : (n,) array
        NaN where nothing is known.
    """

    start: Ints
    end: Ints
    value: Floats

    @property
    def known_minutes(self) -> float:
        """Time for which a good reading stands [min]."""
        return float(((self.end - self.start)[np.isfinite(self.value)]).sum() / _MINUTE_US)

    @property
    def minutes(self) -> float:
        """Time on the axis, known or not [min]."""
        return float((self.end - self.start).sum() / _MINUTE_US)

    @property
    def longest_unknown_minutes(self) -> float:
        """Longest time on end for which nothing is known [min]."""
        unknown = ~np.isfinite(self.value)
        edges = np.flatnonzero(np.diff(np.concatenate([[False], unknown, [False]]).astype(int)))
        first, last = edges[::2], edges[1::2] - 1
        return float((self.end[last] - self.start[first]).max(initial=0) / _MINUTE_US)

    def between(self, start: datetime, end: datetime) -> "Held":
        """Return the part of the record between two instants."""
        low, high = epoch_us(start), epoch_us(end)
        here = slice(np.searchsorted(self.end, low, side="right"), np.searchsorted(self.start, high))
        return Held(np.maximum(self.start[here], low), np.minimum(self.end[here], high), self.value[here])


@dataclass
class Episode:
    """One episode while it is being measured; times in microseconds since 1970."""

    start: int
    end: int
    minutes: float = 0.0
    area: float = 0.0
    worst: float = field(default=float("nan"))
    worst_at: int = 0
    minutes_unknown: float = 0.0
    open_start: bool = False
    open_end: bool = False


def held(
    readings: pl.DataFrame, masked: pl.DataFrame, hold: timedelta, begin: datetime, end: datetime
) -> Held:
    """Turn a record into held stretches from `begin` to `end`.

    Parameters
    ----------
    readings : DataFrame
        ``time`` (ascending), ``value``, ``good``; a reading that is not good ends what stood before it.
    masked : DataFrame of ``start, end``
        Spans taken off the time axis, ascending and apart.
    hold : timedelta
        How long a reading stands when no other follows.
    begin, end : datetime
        Edges of the record.
    """
    time = readings["time"].dt.epoch("us").to_numpy()
    good = readings["good"].to_numpy() & np.isfinite(readings["value"].to_numpy())
    value = np.where(good, readings["value"].to_numpy(), np.nan)
    inside = (time >= epoch_us(begin)) & (time < epoch_us(end))
    time, value = time[inside], value[inside]
    following = np.append(time[1:], epoch_us(end))
    expiry = time + hold // MICROSECOND
    lasts = np.where(np.isfinite(value), np.minimum(expiry, following), time)
    # Each reading makes a known stretch and, where it does not reach the next one, an unknown one.
    edges = np.stack([time, lasts], axis=1).ravel()
    first = np.append(np.array([epoch_us(begin)], np.int64), edges)
    last = np.append(edges, np.array([epoch_us(end)], np.int64))
    values = np.append(np.nan, np.stack([value, np.full(len(value), np.nan)], axis=1).ravel())
    keep = last > first
    return _without(Held(first[keep], last[keep], values[keep]), masked)


def _without(record: Held, masked: pl.DataFrame) -> Held:
    """Cut the masked spans out of a record."""
    parts, off = parted(record, masked)
    return Held(parts.start[~off], parts.end[~off], parts.value[~off])


def parted(record: Held, spans: pl.DataFrame) -> tuple[Held, NDArray[np.bool_]]:
    """Return a record with its stretches cut at the edges of ``start, end``, and which of them lie within."""
    if spans.height == 0 or len(record.start) == 0:
        return record, np.zeros(len(record.start), bool)
    cut_from = spans["start"].dt.epoch("us").to_numpy()
    cut_to = spans["end"].dt.epoch("us").to_numpy()
    edges = merged(record.start, record.end, cut_from, cut_to)
    low, high = edges[:-1], edges[1:]
    row = np.searchsorted(record.start, low, side="right") - 1
    span = np.searchsorted(cut_from, low, side="right") - 1
    within = (span >= 0) & (low < cut_to[np.maximum(span, 0)])
    keep = (row >= 0) & (low < record.end[np.maximum(row, 0)])
    return Held(low[keep], high[keep], record.value[row[keep]]), within[keep]


def episodes(
    record: Held,
    limit: float,
    side: int,
    deadband: float = 0.0,
    min_minutes: float = 0.0,
    merge_minutes: float = 0.0,
) -> list[Episode]:
    """Find the episodes beyond one limit.

    Parameters
    ----------
    record : Held
    limit : float [unit]
    side : int
        +1: outside is above; -1: outside is below.
    deadband : float [unit]
        How far back inside the signal must come before an episode is over.
    min_minutes, merge_minutes : float [min]

    Returns
    -------
    list of Episode
        In order, apart; without `min_minutes` their minutes and areas add up to the exact integrals.
    """
    beyond = side * (record.value - limit)
    kind = np.select([~np.isfinite(beyond), beyond > 0, beyond > -deadband], [UNKNOWN, OUT, BAND], IN)
    found = _open_and_close(record, kind, merge_minutes)
    for episode, first, last in found:
        _measure(episode, record, kind, beyond, slice(first, last + 1))
    merged = _merge([episode for episode, _, _ in found], record, kind, side, merge_minutes)
    return [episode for episode in merged if episode.minutes >= min_minutes]


def minutes_beyond(record: Held, limit: float, side: int) -> float:
    """Time for which `record` is known to stand beyond `limit` [min]."""
    return float((record.end - record.start)[side * (record.value - limit) > 0].sum() / _MINUTE_US)


def _open_and_close(record: Held, kind: Ints, merge_minutes: float) -> list[tuple[Episode, int, int]]:
    """Episodes with the first and last stretch outside of each."""
    found: list[tuple[Episode, int, int]] = []
    first, last = -1, -1
    unknown = 0.0
    starts_known = False
    what = IN
    for begin, end in _runs(kind):
        what = int(kind[begin])
        if what == OUT:
            first = begin if first < 0 else first
            last, unknown = end, 0.0
        elif first >= 0 and what == UNKNOWN:
            unknown += float((record.end[begin : end + 1] - record.start[begin : end + 1]).sum() / _MINUTE_US)
        if first >= 0 and (what == IN or unknown > merge_minutes):
            found.append((_new(record, first, last, starts_known, open_end=what == UNKNOWN), first, last))
            first, unknown = -1, 0.0
        if first < 0:
            starts_known = what in (IN, BAND)
    if first >= 0:
        found.append((_new(record, first, last, starts_known, open_end=what != BAND), first, last))
    return found


def _runs(kind: Ints) -> list[tuple[int, int]]:
    """First and last stretch of every run of the same kind."""
    if len(kind) == 0:
        return []
    begin = np.flatnonzero(np.append(True, kind[1:] != kind[:-1]))
    end = np.append(begin[1:], len(kind)) - 1
    return list(zip(begin.tolist(), end.tolist(), strict=True))


def _new(record: Held, first: int, last: int, starts_known: bool, open_end: bool) -> Episode:
    return Episode(
        int(record.start[first]), int(record.end[last]), open_start=not starts_known, open_end=open_end
    )


def _measure(episode: Episode, record: Held, kind: Ints, beyond: Floats, part: slice) -> None:
    """Integrate minutes and area over the outside stretches and find the worst value."""
    outside = kind[part] == OUT
    minutes = (record.end[part] - record.start[part]) / _MINUTE_US
    episode.minutes = float(minutes[outside].sum())
    episode.area = float((minutes[outside] * beyond[part][outside]).sum())
    episode.minutes_unknown = float(minutes[kind[part] == UNKNOWN].sum())
    at = part.start + int(np.argmax(np.where(outside, beyond[part], -np.inf)))
    episode.worst, episode.worst_at = float(record.value[at]), int(record.start[at])


def _merge(found: list[Episode], record: Held, kind: Ints, side: int, merge_minutes: float) -> list[Episode]:
    """Join episodes that too little known time parts."""
    minutes = (record.end - record.start) / _MINUTE_US
    known = np.append(0.0, np.cumsum(np.where(kind == UNKNOWN, 0.0, minutes)))
    unknown = np.append(0.0, np.cumsum(np.where(kind == UNKNOWN, minutes, 0.0)))
    merged: list[Episode] = []
    for episode in found:
        if merged:
            gap = np.searchsorted(record.start, [merged[-1].end, episode.start])
            known_gap, unknown_gap = (float(np.diff(total[gap])[0]) for total in (known, unknown))
            if known_gap < merge_minutes and unknown_gap <= merge_minutes:
                _join(merged[-1], episode, unknown_gap, side)
                continue
        merged.append(episode)
    return merged


def _join(before: Episode, after: Episode, unknown: float, side: int) -> None:
    before.end, before.open_end = after.end, after.open_end
    before.minutes += after.minutes
    before.area += after.area
    before.minutes_unknown += after.minutes_unknown + unknown
    if side * (after.worst - before.worst) > 0:
        before.worst, before.worst_at = after.worst, after.worst_at
