"""Recording: a finding that rests on nothing but what the tag itself recorded."""

from datetime import date, datetime

from pipeline.advice import check_first
from pipeline.case import Case
from pipeline.finding import Finding, Severity


def of_recording(
    case: Case,
    kind: str,
    severity: Severity,
    crossed: date,
    lasted: tuple[datetime, datetime | None],
    evidence: str,
    listed: date | None = None,
) -> Finding:
    """Return a finding held against the tag's own recording.

    Parameters
    ----------
    case : Case
    kind, severity, crossed, evidence, listed
        As in `Finding`.
    lasted : (datetime, datetime or None)
        When it began, and when it was over; None while it lasts [UTC].
    """
    return Finding(
        tag=case.tag.tag,
        instrument=case.device,
        kind=kind,
        severity=severity,
        crossed=crossed,
        start=lasted[0],
        end=lasted[1],
        reference="own recording",
        evidence=evidence,
        check_first=check_first(kind, case.tag.measures),
        unit=case.tag.unit,
        listed=listed,
    )
