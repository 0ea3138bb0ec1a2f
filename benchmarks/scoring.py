"""Scoring: what was said of a sensor, event by event, against what was true of it.

Days are counted from the first day of the record, errors in tolerances. A finding is dated by the day its
evidence crossed its bar; what a reader of the weekly report learns, he learns at the end of that week.
"""

from dataclasses import dataclass, replace

import numpy as np

from benchmarks.families import Floats
from benchmarks.faults import FOUND_BY, SHIFT

ERROR_FINDINGS = ("drift", "step", "disagrees", "rescaled")
"""Kinds that claim a wrong reading: held against the true error, whatever the label says."""

GRACE_DAYS = 14.0
"""An entry on a fault of the recording counts so long after its end."""

SEED_SHARE = 0.2
"""Of the tolerance: an error that an entry may have foreseen was at least so large when it was made."""

OVERDUE_DAYS = 28.0
FORESEEN_SLOPE_DAYS = 14


@dataclass(frozen=True)
class Said:
    """One finding.

    Parameters
    ----------
    kind, severity, reference : str
    crossed, start : float [day]
    end : float or None [day]
    is_listed : bool
        Whether the calibration list of its week held it.
    listed_on : float [day]
        Day from which it did, where it was for the record only before; NaN: from the beginning.
    error, low, high, rate : float
        Present error with its interval [tolerances], growth [tolerances/week]; NaN where it names none.
    """

    kind: str
    severity: str
    reference: str
    crossed: float
    start: float
    end: float | None
    is_listed: bool
    error: float = np.nan
    low: float = np.nan
    high: float = np.nan
    rate: float = np.nan
    listed_on: float = np.nan

    @property
    def entry(self) -> "Said":
        """The same as an entry of the list: dated by the day that put it there."""
        return self if np.isnan(self.listed_on) else replace(self, crossed=self.listed_on)


@dataclass(frozen=True)
class Trouble:
    """One fault as it was: kind, size of the grid, first and last day, and whether it must be found."""

    kind: str
    size: float
    begin: float
    end: float
    is_due: bool = True


@dataclass(frozen=True)
class Record:
    """One sensor, its truth and all that was said of it.

    Parameters
    ----------
    group, measure, reference : str
    scored_from : int [day]
    error : (days,) array [tolerances]
    troubles : tuple of Trouble
    services : tuple of float [day]
    service_days : float
    said : tuple of Said
        With the whole record known.
    at_56 : Said or None
        The finding of an error that stood open 56 days after the fault began.
    true_rate : float [tolerances/week]
        Of an ordered drift, signed; NaN otherwise.
    """

    group: str
    measure: str
    reference: str
    scored_from: int
    error: Floats
    troubles: tuple[Trouble, ...]
    services: tuple[float, ...]
    service_days: float
    said: tuple[Said, ...]
    at_56: Said | None = None
    true_rate: float = np.nan

    @property
    def faults(self) -> tuple[Trouble, ...]:
        """Troubles of the instrument; a shift is the water's."""
        return tuple(trouble for trouble in self.troubles if trouble.kind != SHIFT)

    @property
    def scored_days(self) -> int:
        """Days that are scored."""
        return len(self.error) - self.scored_from

    @property
    def entries(self) -> list[Said]:
        """What the calibration lists of the scored weeks held."""
        listed = [said.entry for said in self.said if said.is_listed]
        return [said for said in listed if said.crossed >= self.scored_from]


def smooth(error: Floats) -> Floats:
    """Three-day running median of the truth, days without one left out."""
    padded = np.concatenate([[np.nan], error, [np.nan]])
    three = np.stack([padded[:-2], padded[1:-1], padded[2:]])
    known = np.isfinite(three).any(axis=0)
    middle = np.full(len(error), np.nan)
    middle[known] = np.nanmedian(three[:, known], axis=0)
    return middle


def next_service(record: Record, day: float) -> tuple[float, bool]:
    """Day of the next service after `day`, and whether it is in the record; otherwise when it is due."""
    later = [service for service in record.services if service > day]
    if later:
        return later[0], True
    past = [service for service in record.services if service <= day]
    due = past[-1] + record.service_days if past else day + OVERDUE_DAYS
    return (due if due > day else day + OVERDUE_DAYS), False


def is_true(record: Record, said: Said) -> bool:
    """Whether an entry was right.

    A claimed error: the true one was past the tolerance on the day, or passed it before the next service,
    starting from a fifth of it with the sign that was claimed. Anything else: a fault of that sensor was
    under way.
    """
    if said.kind in ERROR_FINDINGS:
        return _error_is_true(record, said)
    return any(f.begin - 1 <= said.crossed <= f.end + GRACE_DAYS for f in record.faults)


def _error_is_true(record: Record, said: Said) -> bool:
    error = smooth(record.error)
    at = min(int(said.crossed), len(error) - 1)
    sign = np.sign(said.error) if np.isfinite(said.error) else 0.0
    until, is_known = next_service(record, said.crossed)
    ahead = error[at : int(np.ceil(until)) if is_known else None]
    ahead = ahead[np.isfinite(ahead)]
    if ahead.size == 0:
        return any(f.begin - 1 <= said.crossed <= f.end + GRACE_DAYS for f in record.faults)
    if not is_known:
        ahead = np.append(ahead, _foreseen(error, until - len(error)))
    now = ahead[0]
    if abs(now) > 1.0 and (sign == 0.0 or np.sign(now) == sign):
        return True
    seeded = abs(now) >= SEED_SHARE and (sign == 0.0 or np.sign(now) == sign)
    return bool(seeded and (np.sign(now) * ahead).max() > 1.0)


def _foreseen(error: Floats, days: float) -> float:
    """Error after `days` more than the record holds, at the slope of its last two weeks."""
    tail = error[-FORESEEN_SLOPE_DAYS:]
    known = np.flatnonzero(np.isfinite(tail))
    if len(known) < 5:
        return 0.0
    slope, level = np.polyfit(known, tail[known], 1)
    return float(level + slope * (len(tail) - 1 + max(days, 0.0)))


def caught(record: Record, fault: Trouble, within_days: float) -> Said | None:
    """First finding that names a fault within so many days of its beginning, before it is over."""
    wanted = FOUND_BY[fault.kind]
    last = min(fault.begin + within_days, fault.end + 1.0)
    for said in sorted(record.said, key=lambda one: one.crossed):
        is_in_time = np.floor(fault.begin) <= said.crossed <= last
        was_open = said.crossed < fault.begin and (said.end is None or said.end > fault.begin + 7.0)
        if said.kind in wanted and (is_in_time or was_open):
            return said
    return None


def delay(fault: Trouble, said: Said) -> float:
    """Days from the beginning of a fault to the day its evidence crossed the bar."""
    return max(0.0, said.crossed - np.floor(fault.begin))


def week_end(day: float) -> float:
    """Day on which the report of the week of `day` is made; the record begins on a Monday."""
    return 7.0 * (np.floor(day / 7.0) + 1.0)


@dataclass(frozen=True)
class Passing:
    """A stretch of true error past the tolerance.

    Parameters
    ----------
    begin, doubles, end : float [day]
        First day past it, first day past twice it (infinite if never), day it was over or the record was.
    """

    begin: int
    doubles: float
    end: int


def passings(record: Record, fewest_days: int = 7) -> list[Passing]:
    """Scored stretches past the tolerance that lasted a week and took a week or more to double it."""
    error = np.abs(smooth(record.error))
    error = np.where(np.isfinite(error), error, 0.0)
    error[: record.scored_from] = 0.0
    beyond = np.concatenate([[False], error > 1.0, [False]])
    begins, ends = np.flatnonzero(~beyond[:-1] & beyond[1:]), np.flatnonzero(beyond[:-1] & ~beyond[1:])
    found: list[Passing] = []
    for begin, end in zip(begins.tolist(), ends.tolist(), strict=True):
        if (
            found
            and begin - found[-1].end <= 3
            and not any(found[-1].end <= s <= begin for s in record.services)
        ):
            begin = found.pop().begin
        double = np.flatnonzero(error[begin:end] > 2.0)
        found.append(Passing(begin, float(begin + double[0]) if double.size else np.inf, end))
    return [
        one for one in found if one.end - one.begin >= fewest_days and one.doubles - one.begin >= fewest_days
    ]


def is_in_time(record: Record, passing: Passing, is_listed: bool = True) -> bool:
    """Whether the sensor's error was named before it had doubled the tolerance, and before it was over.

    On a list, or, without `is_listed`, among the findings of a report.
    """
    return any(
        said.kind in ERROR_FINDINGS
        and week_end(said.crossed) <= min(passing.doubles, passing.end)
        and (said.end is None or said.end >= passing.begin)
        for said in (record.entries if is_listed else record.said)
    )
