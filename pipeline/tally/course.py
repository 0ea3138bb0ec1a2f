"""Course: what disinfection came to hour by hour, day by day and month by month, for the report to print."""

from collections.abc import Sequence
from datetime import datetime

import numpy as np

from pipeline.clock import Period, months_before, months_of
from pipeline.disinfection.contact import contact_minutes
from pipeline.epoch import instant_of
from pipeline.margin import LOWEST_COVERAGE_PCT
from pipeline.record import Contact
from pipeline.result import Inactivation, PeakHour
from pipeline.tally.averages import Average
from pipeline.tally.hours import HOUR_US, hourly, marks_of, profile, volume_gal
from pipeline.tally.inactivation import Day, days_of, lowest, monthly


def inactivation(contacts: Sequence[Contact], period: Period, as_of: datetime) -> Inactivation | None:
    """Return the course of disinfection over a period; None without segments.

    The months are the twelve that ended last.
    """
    if not contacts:
        return None
    hours = profile(contacts, marks_of(period.days), is_virus=False)
    values = [None if np.isnan(logs) else float(logs) for logs in hours.logs.tolist()]
    giardia, virus = (days_of(contacts, period.days, as_of, is_virus) for is_virus in (False, True))
    touched = months_of(period)[-1]
    last = touched if touched.end <= as_of else months_before(touched, 2)[0]
    months = monthly(contacts, last, as_of)
    least = lowest(months)
    due = [pair for pair in zip(giardia, virus, strict=True) if pair[0].is_due]
    return Inactivation(
        tuple((instant_of(start), value) for start, value in zip(hours.start.tolist(), values, strict=True)),
        tuple((one.start, _peak(contacts, one, other)) for one, other in due),
        tuple((month.start, _counted(mean)) for month, mean in months),
        (least[0].start, least[1]) if least else None,
    )


def _counted(mean: Average) -> float | None:
    return mean.value if mean.coverage_pct >= LOWEST_COVERAGE_PCT else None


def _peak(contacts: Sequence[Contact], day: Day, virus: Day) -> PeakHour | None:
    if not day.peak:
        return None
    marks = np.array([day.peak, day.peak + HOUR_US], np.int64)
    minutes = ct = 0.0
    for contact in contacts:
        hours = {what: hourly(held, marks) for what, held in contact.inputs.items()}
        flow, residual = hours["flow"].high, hours["residual"].low
        part = contact_minutes(volume_gal(contact.segment, hours), flow, contact.segment.baffling_factor)
        minutes, ct = minutes + float(part[0]), ct + float(part[0] * residual[0])
    return PeakHour(
        day.start,
        instant_of(day.peak),
        float(flow[0]),
        float(residual[0]),
        _lowest(contacts[-1], day),
        float(hours["ph"].high[0]),
        float(hours["temperature"].low[0]),
        minutes,
        ct,
        day.value,
        virus.value,
    )


def _lowest(contact: Contact, day: Day) -> float | None:
    """Return the least residual known of a day [mg/L]."""
    value = contact.inputs["residual"].between(day.start, day.end).value
    known = value[np.isfinite(value)]
    return float(known.min()) if len(known) else None
