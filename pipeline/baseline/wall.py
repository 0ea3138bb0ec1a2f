"""Wall: what the wall clock showed at many instants; the zone is asked once a week, for all tags together."""

from datetime import timedelta, tzinfo
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from pipeline.epoch import MICROSECOND, instant_of

Ints = NDArray[np.int64]

_SECOND_US = 1_000_000
_WEEK_US = 7 * 86_400 * _SECOND_US
"""No zone has ever changed and changed back within so short a time."""


def wall_us(time_us: Ints, zone: tzinfo) -> Ints:
    """Return the wall clock [us since 1970-01-01 00:00 local].

    Parameters
    ----------
    time_us : (n,) array
        Ascending instants [us since 1970, UTC].
    zone : tzinfo

    Notes
    -----
    Converting every reading by itself costs five times as much, and most of a check's time.
    """
    if len(time_us) == 0:
        return time_us
    first, last = (int(time_us[place]) // _WEEK_US for place in (0, -1))
    weeks = [_week(number, zone) for number in range(first, last + 1)]
    local = time_us + weeks[0][0]
    for _, moved, since in weeks:
        if moved:
            local[np.searchsorted(time_us, since) :] += moved
    return local


@lru_cache(maxsize=4096)
def _week(number: int, zone: tzinfo) -> tuple[int, int, int]:
    """Offset [us] as a week begins, by how much it changes in that week, and since which instant."""
    begin, end = number * _WEEK_US, (number + 1) * _WEEK_US
    before, after = _offset(begin, zone), _offset(end, zone)
    return before, after - before, _change(begin, end, zone) if after != before else end


def _offset(time_us: int, zone: tzinfo) -> int:
    instant = instant_of(time_us)
    return (instant.astimezone(zone).utcoffset() or timedelta()) // MICROSECOND


def _change(before_us: int, after_us: int, zone: tzinfo) -> int:
    """First whole second from which the offset is that of `after_us`."""
    last = _offset(after_us, zone)
    low, high = before_us // _SECOND_US, after_us // _SECOND_US + 1
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if _offset(middle * _SECOND_US, zone) == last else (middle, high)
    return high * _SECOND_US
