"""Moments: a time as a person writes it, on the plant's wall clock unless it carries an offset."""

from datetime import UTC, datetime, tzinfo
from itertools import product
from typing import Literal

Order = Literal["month_first", "day_first"]

_CLOCKS = (" %H:%M", " %H:%M:%S", " %I:%M %p", " %I:%M:%S %p", "")
_DATES: dict[Order, str] = {"month_first": "%m/%d/%Y", "day_first": "%d/%m/%Y"}


def moment(text: str, zone: tzinfo, order: Order | None = None) -> datetime:
    """Return `text` as an instant.

    Parameters
    ----------
    text : str
        ISO 8601 (``2026-11-09 07:30``), or with slashes where `order` says which part is the month.
    zone : tzinfo
        The plant's.

    Returns
    -------
    datetime
        UTC; of an hour that the clocks repeat the first pass. A date alone is its midnight.

    Raises
    ------
    ValueError
        It is no time, or the plant's clock never showed it; worded for a fault.
    """
    local = _read(text.strip(), order)
    if local.tzinfo is not None:
        return local.astimezone(UTC)
    instant = local.replace(tzinfo=zone).astimezone(UTC)
    if instant.astimezone(zone).replace(tzinfo=None) != local:
        raise ValueError(f"{text!r} never was on the plant's clock (the hour skipped in spring)")
    return instant


def has_clock(text: str) -> bool:
    """Tell whether `text` names a time of day and not only a date."""
    return ":" in text


def _read(text: str, order: Order | None) -> datetime:
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        pass
    dates = ("%Y-%m-%d", *([_DATES[order]] if order else []))
    for date, clock in product(dates, _CLOCKS):
        try:
            return datetime.strptime(text, date + clock)
        except ValueError:
            continue
    raise ValueError(f"{text!r} is not a time")
