"""Upset rows: one upset as a line of upsets.csv; several names in one cell stand apart by a bar."""

from datetime import date, datetime

from pipeline.upsets.account import first_names, summary
from pipeline.upsets.inquiry import Inquiry

Cell = str | float | int | date | datetime | None


def upset_row(inquiry: Inquiry, as_of: datetime) -> tuple[Cell, ...]:
    """Return the cells of an upset; the end is blank while it goes on.

    Parameters
    ----------
    as_of : datetime
        Where the record ends.
    """
    upset = inquiry.upset
    assert upset
    limits = dict.fromkeys(one.limit.limit_id for one in upset.excursions)
    return (
        *(upset.upset_id, upset.start, upset.end if upset.end < as_of else None, upset.severity),
        *("|".join(first_names(inquiry)), "|".join(upset.tags), "|".join(limits), summary(inquiry)),
    )
