"""Runs: how long a signal repeats itself, and how long it may before that is news."""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]


def run_bounds(values: Floats, joined: Bools) -> tuple[Ints, Ints]:
    """First and last index of every run of identical values.

    Parameters
    ----------
    values : (n,) array
        NaN is in no run.
    joined : (n,) array of bool
        Whether value i follows i-1 without a break (``joined[0]`` is not looked at).

    Returns
    -------
    first, last : (k,) arrays of int
        Inclusive, ascending, runs of one included.
    """
    if len(values) == 0:
        return np.empty(0, np.int64), np.empty(0, np.int64)
    known = np.isfinite(values)
    same = np.zeros(len(values), dtype=bool)
    same[1:] = (values[1:] == values[:-1]) & joined[1:] & known[1:]
    begins = np.flatnonzero(~same)
    ends = np.append(begins[1:], len(values)) - 1
    runs = known[begins]
    return begins[runs].astype(np.int64), ends[runs].astype(np.int64)


def longest_usual_run(lengths: Ints, years: float, per_year: float = 0.1, caution: float = 0.15) -> float:
    """Return the run length that chance exceeds `per_year` times a year.

    The tail of the signal's own runs beyond their 98 % quantile is taken as geometric: each further
    repeat has the same chance, raised by `caution` of what is missing to certainty because a quiet
    spell repeats more than the average. A length that more than two past runs reached is not news.

    Parameters
    ----------
    lengths : (k,) array of int
        Readings in each past run, runs of one included.
    years : float
        Length of that past.

    Returns
    -------
    float
        Readings; infinite where the past has fewer than 100 runs.
    """
    if len(lengths) < 100 or years <= 0:
        return float("inf")
    # Lengths are small whole numbers: counting them is ten times as fast as sorting them.
    count = np.bincount(lengths)
    start = max(_quantile(count, 0.98), 2.0)
    size = np.arange(int(np.ceil(start)), len(count))
    in_tail = int(count[size].sum())
    mean_excess = float((count[size] * size).sum()) / in_tail - start if in_tail else 0.0
    repeat = mean_excess / (1.0 + mean_excess)
    repeat += caution * (1.0 - repeat)
    in_tail_per_year = max(in_tail, 1) / years
    length = start + max(np.log(per_year / in_tail_per_year) / np.log(repeat), 0.0)
    third = _ranked(count, len(lengths) - 3)
    return float(np.ceil(max(length, third + 1.0)))


def _quantile(count: Ints, share: float) -> float:
    """Quantile between the two nearest ranks, of values counted by size."""
    position = share * (float(count.sum()) - 1.0)
    low = int(position)
    below, above = _ranked(count, low), _ranked(count, low + 1)
    return below + (position - low) * (above - below)


def _ranked(count: Ints, rank: int) -> float:
    """Value of a rank from below, from 0."""
    return float(np.searchsorted(np.cumsum(count), rank, side="right"))
