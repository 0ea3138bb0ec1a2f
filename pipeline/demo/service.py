"""Service: when each instrument is serviced, and how far it strays in between.

A healthy instrument drifts a little, by a third of its tolerance at most, and starts anew at each
service. An instrument with a scripted drift was last serviced just before that drift began.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from zlib import crc32

import numpy as np

from pipeline.demo.calendar import END, Calendar, FloatArray
from pipeline.demo.noise import stream
from pipeline.demo.script import FAULTS, Fault
from pipeline.demo.sheets import Instrument

LASTING = ("drift", "step", "noisy", "damped")
WASHED = ("uv_transmittance", "uv_intensity")


@dataclass(frozen=True)
class Service:
    """One visit: wall clock `when`, `kind` as in calibrations.csv, `fault` it ended or began, if any."""

    when: str
    kind: str
    fault: Fault | None = None


def services(instrument: Instrument, first: str) -> list[Service]:
    """Return the services of one instrument, oldest first, from one interval before `first` on.

    Parameters
    ----------
    instrument : Instrument
        Whose services.
    first : str
        Wall clock at which the record begins.
    """
    faults = [f for f in FAULTS if instrument.tag.tag in f.tags and f.kind in LASTING and f.start >= first]
    extra = [visit for fault in faults for visit in _visits(fault)]
    kept = [visit for visit in _regular(instrument, first) if not _crowded(visit, faults, extra)]
    return sorted([*kept, *extra], key=lambda visit: visit.when)


def _regular(instrument: Instrument, first: str) -> list[Service]:
    """Return the visits of the service plan, on weekdays in the day shift."""
    number = crc32(instrument.instrument.encode())
    days = instrument.service_days
    kind = "cleaning" if instrument.tag.measures in WASHED else "calibration"
    when = datetime.fromisoformat(END) - timedelta(days=1 + number % days)
    oldest = datetime.fromisoformat(first) - timedelta(days=days)
    found = []
    while when > oldest:
        day = when - timedelta(days=max(0, when.weekday() - 4))
        visit = day.replace(hour=8 + number % 6, minute=15 * (number // 7 % 4))
        found.append(Service(visit.isoformat(timespec="minutes"), kind))
        when -= timedelta(days=days)
    return found


def _visits(fault: Fault) -> list[Service]:
    """Return the visits that belong to a lasting fault: just before it, and the one that ended it."""
    start = datetime.fromisoformat(fault.start)
    if fault.kind == "step":
        found = [Service(fault.start, "calibration", fault)]
    else:
        before = (start - timedelta(days=4)).replace(hour=10)
        found = [Service(before.isoformat(timespec="minutes"), "calibration")]
    if fault.serviced:
        found.append(Service(fault.end, fault.serviced, fault))
    return found


def _crowded(visit: Service, faults: list[Fault], extra: list[Service]) -> bool:
    """Whether a planned visit falls into a lasting fault or within a fortnight of another visit."""
    when = datetime.fromisoformat(visit.when)
    if any(fault.start <= visit.when < fault.end for fault in faults):
        return True
    return any(abs(when - datetime.fromisoformat(other.when)) < timedelta(days=14) for other in extra)


@dataclass(frozen=True)
class Stretch:
    """The time between two services of one instrument; `strayed` = share of the tolerance at its end."""

    start: str
    end: str
    strayed: float


def stretches(seed: int, instrument: Instrument, first: str) -> list[Stretch]:
    """Return how far the instrument strays in each stretch between services.

    An instrument keeps its habit: most of its stretches lean to the same side. A stretch with a
    scripted drift or step strays by that alone.
    """
    source = stream(seed, f"service {instrument.instrument}")
    habit = float(source.uniform(-0.16, 0.16))
    times = [visit.when for visit in services(instrument, first)]
    times = [_days_before(times[0] if times else first, instrument.service_days), *times, END]
    found = []
    for start, end in pairwise(times):
        strayed = habit + float(source.uniform(-0.17, 0.17))
        length = (datetime.fromisoformat(end) - datetime.fromisoformat(start)).days
        strayed *= min(1.0, length / instrument.service_days)
        found.append(Stretch(start, end, 0.0 if _scripted(instrument, start, end) else strayed))
    return found


def _days_before(when: str, days: int) -> str:
    return (datetime.fromisoformat(when) - timedelta(days=days)).isoformat(timespec="minutes")


def _scripted(instrument: Instrument, start: str, end: str) -> bool:
    return any(
        instrument.tag.tag in fault.tags and fault.kind in LASTING and fault.start < end and start < fault.end
        for fault in FAULTS
    )


def natural_drift(seed: int, calendar: Calendar, instrument: Instrument, typical: float) -> FloatArray:
    """Return the healthy instrument's error over the record.

    Parameters
    ----------
    typical : float
        Usual reading [tag's unit], at which the tolerance is taken.

    Returns
    -------
    ndarray
        Error [tag's unit]; a share of the reading where the tag's error is relative.
    """
    error = np.zeros(len(calendar))
    size = error_size(instrument, typical)
    first = str(calendar.wall[0])
    for stretch in stretches(seed, instrument, first):
        since_h = calendar.hours_since(stretch.start)
        length_h = since_h - calendar.hours_since(stretch.end)
        inside = calendar.window(stretch.start, stretch.end)
        error[inside] = (stretch.strayed * size * since_h / length_h)[inside]
    return error


def error_size(instrument: Instrument, typical: float) -> float:
    """Return the tolerance [tag's unit], or as a share of the reading where the error is relative."""
    tolerance = instrument.tolerance_at(typical)
    return tolerance / typical if instrument.tag.relative else tolerance
