"""Recording: a finding that rests on nothing but what the tag itself recorded."""

from collections.abc import Sequence
from datetime import date, datetime, timedelta

import polars as pl

from pipeline.advice import check_first
from pipeline.case import RESTARTS, Case
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


def comes_back(
    case: Case, stretches: Sequence[tuple[datetime, datetime]], newest: datetime, within: timedelta
) -> bool:
    """Whether the last stretches followed each other so closely that the next is only a matter of hours.

    Parameters
    ----------
    stretches : sequence of (datetime, datetime)
        Beginning and end of each, oldest first [UTC].
    newest : datetime
        The newest reading [UTC].
    within : timedelta
        So close is closely. A service after the last of them ends it too.
    """
    last = stretches[-1][1]
    if len(stretches) == 1 or newest - last >= within or stretches[-1][0] - stretches[-2][1] >= within:
        return False
    return case.services.filter((pl.col("time") >= last) & pl.col("kind").is_in(RESTARTS)).is_empty()
