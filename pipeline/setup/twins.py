"""Twins: tags that look like copies of each other, or that rise and fall together."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import polars as pl

from pipeline.setup.guess import Signal

COPY_SHARE = 0.99
"""Share of equal values at common times from which two columns are one signal under two names."""
LEAST_CORRELATION = 0.95
FEWEST_COMMON = 50
FEWEST_VALUES = 5
MOST_ROWS = 4000
"""A comparison of all pairs looks at so many of the common times, evenly taken."""

_FEW, _SCATTER, _ROUNDING = 200, 0.09, 1e-6
"""How many rows tell whether two columns may be equal, and how far both first looks may be off."""
Table = np.ndarray[tuple[int, int], np.dtype[np.float64]]
Marks = np.ndarray[tuple[int, int], np.dtype[np.bool_]]


@dataclass(frozen=True)
class Alike:
    """Two tags of the export, and in what way they are alike."""

    first: str
    second: str
    is_copy: bool
    evidence: str


def alike(signals: Sequence[Signal]) -> list[Alike]:
    """Return the pairs that are copies (the same numbers) or go together (their changes correlate).

    A copy is no second witness: it must not become a `twin`. What goes together may measure the same
    water, or only the same day; people know which.
    """
    lively = [signal for signal in signals if signal.numbers.n_unique() >= FEWEST_VALUES]
    if len(lively) < 2:
        return []
    values = _together(lively)
    likely = _likely(values)
    return [
        found
        for second in range(len(lively))
        for first in np.flatnonzero(likely[:second, second])
        if (found := _pair(lively[first].name, lively[second].name, values[:, first], values[:, second]))
    ]


def _together(signals: Sequence[Signal]) -> Table:
    """Return one row an instant of the record, one column a signal, NaN where it has no reading."""
    every = pl.concat([signal.readings["time"] for signal in signals]).unique().sort()
    times = every.gather_every(max(1, len(every) // MOST_ROWS)).to_frame()
    columns = []
    for signal in signals:
        rows = signal.readings.select("time", pl.col("number").cast(pl.Float64))
        columns.append(times.join(rows, on="time", how="left", maintain_order="left")["number"].to_numpy())
    return np.column_stack(columns)


def _likely(values: Table) -> Marks:
    """Mark pairs worth a closer look; those with readings at the same times are looked over at once."""
    finite = np.isfinite(values)
    kinds = np.unique(np.packbits(finite, axis=0), axis=1, return_inverse=True)[1].ravel()
    likely: Marks = kinds[:, None] != kinds
    for kind in np.unique(kinds):
        where = np.flatnonzero(kinds == kind)
        rows = values[finite[:, where[0]]][:, where]
        likely[np.ix_(where, where)] = _together_or_equal(rows)
    return likely


def _together_or_equal(rows: Table) -> Marks:
    if len(rows) < FEWEST_COMMON:
        return np.zeros((rows.shape[1], rows.shape[1]), dtype=np.bool_)
    moves = np.diff(rows, axis=0)
    moves = moves - moves.mean(axis=0)
    size = np.sqrt((moves**2).sum(axis=0))
    moves = moves / np.where(size > 0, size, np.inf)
    found: Marks = moves.T @ moves >= LEAST_CORRELATION - _ROUNDING
    few = rows[:: max(1, len(rows) // _FEW)]
    for place in range(few.shape[1]):
        found[:, place] |= (few == few[:, place : place + 1]).mean(axis=0) >= COPY_SHARE - _SCATTER
    return found


def _pair(
    first: str,
    second: str,
    x: "np.ndarray[tuple[int], np.dtype[np.float64]]",
    y: "np.ndarray[tuple[int], np.dtype[np.float64]]",
) -> Alike | None:
    both = np.isfinite(x) & np.isfinite(y)
    if both.sum() < FEWEST_COMMON:
        return None
    x, y = x[both], y[both]
    equal = float(np.mean(x == y))
    if equal >= COPY_SHARE:
        return Alike(first, second, True, f"{equal:.1%} of {len(x)} readings are the same numbers")
    moves_x, moves_y = np.diff(x), np.diff(y)
    if np.ptp(moves_x) == 0 or np.ptp(moves_y) == 0:
        return None
    together = float(np.corrcoef(moves_x, moves_y)[0, 1])
    if together < LEAST_CORRELATION:
        return None
    return Alike(first, second, False, f"their changes go together (correlation {together:.2f})")
