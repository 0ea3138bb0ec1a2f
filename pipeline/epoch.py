"""Epoch: instants and days as numbers since 1970 began, as arrays hold them."""

from datetime import UTC, date, datetime, timedelta
from math import floor

import numpy as np
from numpy.typing import NDArray

MICROSECOND = timedelta(microseconds=1)
_INSTANT = datetime(1970, 1, 1, tzinfo=UTC)
_DAY = date(1970, 1, 1)


def epoch_us(instant: datetime) -> int:
    """Return how many microseconds after 1970 began (UTC) an instant lies."""
    return (instant - _INSTANT) // MICROSECOND


def instant_of(microseconds: int) -> datetime:
    """Return the instant so many microseconds after 1970 began [UTC]."""
    return _INSTANT + timedelta(microseconds=int(microseconds))


def merged(*instants: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return the instants of several arrays in order, each once.

    As `numpy.unique`, but much sooner where each array is in order already: a stable sort merges them.
    """
    every = np.sort(np.concatenate(instants), kind="stable")
    return every[np.append(True, every[1:] != every[:-1])] if len(every) else every


def day_number(day: date) -> float:
    """Return how many days after 1970-01-01 a local day lies."""
    return float((day - _DAY).days)


def date_of(number: float) -> date:
    """Return the local day that holds the point so many days after 1970-01-01 began."""
    return _DAY + timedelta(days=floor(number))
