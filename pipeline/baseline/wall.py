"""Wall: what the wall clock showed at many instants; the zone is asked once a week and where it changes."""

from datetime import timedelta, tzinfo

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
    asked = np.arange(int(time_us[0]), int(time_us[-1]) + _WEEK_US, _WEEK_US)
    offset = np.array([_offset(int(at), zone) for at in asked])
    changes = np.flatnonzero(np.diff(offset))
    edges = [_change(int(asked[k]), int(asked[k + 1]), zone) for k in changes]
    steps = np.append(offset[:1], offset[changes + 1])
    until = [*np.searchsorted(time_us, np.array(edges, np.int64)).tolist(), len(time_us)]
    return np.asarray(time_us + np.repeat(steps, np.diff(until, prepend=0)))


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
