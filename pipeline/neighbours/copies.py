"""Copies: stretches in which two tags show the same numbers, change after change."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import timedelta

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.case import Case
from pipeline.epoch import MICROSECOND, epoch_us, instant_of
from pipeline.facts import COPIES
from pipeline.table import conform

WINDOW = timedelta(hours=3)
WINDOW_READINGS = 12
FEWEST_MOVES = 4
"""Changes within a window that make its equality worth something: what stands still is equal by chance."""

FEWEST_WINDOWS = 3
"""Equal moving windows in a row that are no chance: a dozen changes, each to the same number at once."""

TELLING_JUMP = 3.0
"""Times its own usual step, and times the other's jump: the one that jumps there took the other's signal."""

USUAL_READINGS = 192

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class _Signal:
    """Good readings of a tag, and a number for each of its moving windows that equals only its like's."""

    name: str
    time: Ints
    value: Floats
    window: Ints
    print: Floats


def copies(cases: Mapping[str, Case]) -> dict[str, pl.DataFrame]:
    """Return the stretches in which a tag shows another's numbers, each a table of COPIES.

    The unit is of no account: a channel that is wired or configured twice knows none. Of each stretch
    one tag is told of: the one that jumped when it began, else the later in the config.
    """
    found: dict[str, list[tuple[object, ...]]] = {}
    by_step: dict[timedelta, list[Case]] = {}
    for case in cases.values():
        if not case.tag.is_state and case.tag.recording == "interval" and case.readings.height:
            by_step.setdefault(case.step, []).append(case)
    for step, together in sorted(by_step.items()):
        if len(together) < 2:
            continue
        signals = [_signal(case) for case in together]
        for (first, second), windows in sorted(_alike(signals).items()):
            for name, row in _stretches(signals[first], signals[second], windows, _window_us(step)):
                found.setdefault(name, []).append(row)
    return {name: _table(rows) for name, rows in found.items()}


def _table(rows: list[tuple[object, ...]]) -> pl.DataFrame:
    return conform(pl.DataFrame(rows, schema=COPIES, orient="row").sort("start", "other"), COPIES)


def _window_us(step: timedelta) -> int:
    return max(WINDOW, WINDOW_READINGS * step) // MICROSECOND


def _signal(case: Case) -> _Signal:
    good = case.readings.filter(pl.col("good") & pl.col("value").is_finite())
    time, value = good["time"].dt.epoch("us").to_numpy(), good["value"].to_numpy()
    if len(time) < WINDOW_READINGS:
        return _Signal(case.tag.tag, time, value, np.empty(0, np.int64), np.empty(0))
    width, step = _window_us(case.step), case.step // MICROSECOND
    window = time // width
    begins = np.flatnonzero(np.append(True, window[1:] != window[:-1]))
    moves = np.append(False, value[1:] != value[:-1])
    # Weights without a common measure: two windows have the same sum only where all readings are the same.
    weight = np.sqrt(((time % width) // step).astype(np.float64) + 2.0)
    sums = np.add.reduceat(value * weight, begins)
    kept = np.add.reduceat(moves.astype(np.int64), begins) >= FEWEST_MOVES
    # A window that is not over says nothing yet.
    kept &= (window[begins] + 1) * width <= epoch_us(case.as_of)
    return _Signal(case.tag.tag, time, value, window[begins][kept], sums[kept])


def _alike(signals: list[_Signal]) -> dict[tuple[int, int], Ints]:
    """Windows in which two signals are alike, for each two that are so often enough."""
    owner = np.concatenate([np.full(len(one.window), k) for k, one in enumerate(signals)])
    window = np.concatenate([one.window for one in signals])
    prints = np.concatenate([one.print for one in signals])
    order = np.lexsort((owner, prints, window))
    owner, window, prints = owner[order], window[order], prints[order]
    shared: dict[tuple[int, int], list[int]] = {}
    for ahead in range(1, len(signals)):
        same = (window[ahead:] == window[:-ahead]) & (prints[ahead:] == prints[:-ahead])
        if not same.any():
            break
        for at in np.flatnonzero(same):
            shared.setdefault((int(owner[at]), int(owner[at + ahead])), []).append(int(window[at]))
    return {
        pair: np.array(sorted(found), dtype=np.int64)
        for pair, found in shared.items()
        if len(found) >= FEWEST_WINDOWS
    }


def _stretches(
    one: _Signal, other: _Signal, windows: Ints, width: int
) -> list[tuple[str, tuple[object, ...]]]:
    """Return name and row of COPIES for each stretch of equality that holds enough of the windows."""
    time, at_one, at_other = np.intersect1d(one.time, other.time, assume_unique=True, return_indices=True)
    a, b = one.value[at_one], other.value[at_other]
    edges = np.flatnonzero(np.diff((a == b).astype(np.int8), prepend=0, append=0))
    made: list[tuple[str, tuple[object, ...]]] = []
    for begin, end in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        rows = np.searchsorted(time, [windows * width, (windows + 1) * width])
        inside = windows[(rows[0] >= begin) & (rows[1] <= end)]
        if len(inside) < FEWEST_WINDOWS:
            continue
        name, rival, is_told = _copy(one, other, a, b, begin)
        told = int((inside[FEWEST_WINDOWS - 1] + 1) * width) - 1
        moves = int(np.count_nonzero(np.diff(a[begin:end])))
        over = None if end == len(time) else instant_of(time[end])
        begun = instant_of(time[begin])
        row = (begun, over, instant_of(told), rival, end - begin, moves, is_told, begin == 0)
        made.append((name, row))
    return made


def _copy(one: _Signal, other: _Signal, a: Floats, b: Floats, begin: int) -> tuple[str, str, bool]:
    """Return which of two is the copy, the other, and whether its own jump tells so."""
    jumps = [_jump(a, begin), _jump(b, begin)]
    names = [one.name, other.name]
    copy = int(jumps[1] >= jumps[0])
    is_told = jumps[copy] >= TELLING_JUMP * max(1.0, jumps[1 - copy])
    # Where neither gives itself away, the later in the config speaks for both.
    copy = copy if is_told else 1
    return names[copy], names[1 - copy], bool(is_told)


def _jump(values: Floats, begin: int) -> float:
    """Step into the stretch, in usual steps of the two days before."""
    usual = np.abs(np.diff(values[max(begin - USUAL_READINGS, 0) : begin]))
    if len(usual) == 0:
        return 0.0
    typical = float(np.quantile(usual, 0.9))
    step = abs(float(values[begin] - values[begin - 1]))
    return step / typical if typical > 0 else (np.inf if step > 0 else 0.0)
