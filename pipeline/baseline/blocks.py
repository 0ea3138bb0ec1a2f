"""Blocks: four-week stretches on a fixed calendar; what is learned for one comes from before it.

Because the blocks begin on the same days whatever is reported, and each learns from earlier data
alone, the judgement of a day never changes when later data arrive.
"""

from collections.abc import Iterator
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from pipeline.epoch import day_number

BLOCK_DAYS = 28
_FIRST = date(1970, 1, 5)  # a Monday, so that weekly habits are whole in every block
_FIRST_NUMBER = int(day_number(_FIRST))


def blocks(first: date, last: date) -> Iterator[tuple[date, date]]:
    """Start and end (exclusive) of every block from the one of `first` to the one of `last`."""
    start = first - timedelta(days=(first - _FIRST).days % BLOCK_DAYS)
    while start <= last:
        yield start, start + timedelta(days=BLOCK_DAYS)
        start += timedelta(days=BLOCK_DAYS)


def blocks_of(day: NDArray[np.float64]) -> Iterator[tuple[float, slice]]:
    """First day of every block and where it lies in ascending `day` (days since 1970-01-01)."""
    if len(day) == 0:
        return
    number = (day - _FIRST_NUMBER) // BLOCK_DAYS
    begins = np.flatnonzero(np.append(True, number[1:] != number[:-1]))
    ends = [*begins[1:], len(day)]
    for begin, end in zip(begins, ends, strict=True):
        yield float(number[begin] * BLOCK_DAYS + _FIRST_NUMBER), slice(int(begin), int(end))
