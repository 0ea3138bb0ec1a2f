"""First: who may have moved first, as a set; one name is printed alone only where it is earned."""

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

LEAST_CHANCE = 0.1
"""Every tag that was first with at least this probability is named."""
EQUAL_SHARE = 0.5
"""Of the likeliest: where many began together none is likely, and all that are about as likely are named."""


def first_chances(chances: Mapping[str, Floats]) -> dict[str, float]:
    """Return for each tag the probability that it moved before all others.

    Parameters
    ----------
    chances : mapping of str to (n,) array
        Probability of each quarter hour for the onset of each tag, on one common clock.

    Returns
    -------
    dict of str to float
        Sums to 1; of those that begin in the same quarter hour each has an equal share.
    """
    names = list(chances)
    if not names:
        return {}
    table = np.stack([chances[name] for name in names])
    later = 1.0 - np.cumsum(table, axis=1)
    return dict(zip(names, _shared(table, np.clip(later, 0.0, 1.0)), strict=True))


def _shared(table: Floats, later: Floats) -> list[float]:
    """Integrate: first at t, with a tie of k shared by k, exactly (the k-fold tie as a polynomial in s)."""
    # 1/k = integral of s^(k-1) over 0..1, so a tie's share is the mean over s of the product of
    # (later + s * now); Gauss-Legendre of 16 nodes is exact for up to 32 tags.
    nodes, weights = np.polynomial.legendre.leggauss(16)
    share = np.zeros(len(table))
    for node, weight in zip(0.5 * (nodes + 1.0), 0.5 * weights, strict=True):
        either = later + node * table
        logs = np.log(np.maximum(either, 1e-300))
        others = np.exp(logs.sum(axis=0)[None, :] - logs)
        share += weight * (table * others).sum(axis=1)
    return [float(value) for value in share / max(share.sum(), 1e-300)]


def named(first: Mapping[str, float]) -> list[str]:
    """Return the tags worth naming, the likeliest first."""
    ranked = sorted(first, key=lambda name: (-first[name], name))
    bar = min(LEAST_CHANCE, EQUAL_SHARE * max(first.values(), default=0.0))
    return [name for name in ranked if first[name] >= bar]
