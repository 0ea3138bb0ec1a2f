"""Trailing: what the days up to each one hold."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

KNOWN_SHARE = 0.7
"""Of the days of a stretch: with fewer figures it has no mean."""


def trailing_means(figure: Floats, lengths: Sequence[int]) -> Floats:
    """Return means of the last so many days up to each, a row a length; NaN where too few have a figure."""
    known = np.isfinite(figure)
    total = np.append(0.0, np.where(known, figure, 0.0).cumsum())
    count = np.append(0, known.cumsum())
    length = np.array(lengths)[:, None]
    first = np.maximum(np.arange(1, len(figure) + 1) - length, 0)
    number = count[1:] - count[first]
    means = (total[1:] - total[first]) / np.maximum(number, 1)
    means[number < np.ceil(KNOWN_SHARE * length)] = np.nan
    return np.asarray(means)


def lagged(figure: Floats, lag: int) -> Floats:
    """Return the figures of the days `lag` before each."""
    return np.append(np.full(lag, np.nan), figure)[: len(figure)]
