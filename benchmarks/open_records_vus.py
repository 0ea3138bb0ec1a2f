"""Volume under the precision-recall surface: how well a score ranks events above all else, without a limit.

Paparrizos et al. 2022, "Volume under the surface", PVLDB 15(11), 2774, in the form of its authors' reference
code: labels are widened by a buffer that falls off as a square root, recall is multiplied by the share of
events that are touched at all, and the area is averaged over all buffers up to the widest.
"""

import numpy as np

from benchmarks.families import Floats

Flags = np.ndarray[tuple[int], np.dtype[np.bool_]]
THRESHOLDS = 250
WIDEST = 100
"""Rows; the reference code's own default."""


def segments(marked: Flags) -> list[tuple[int, int]]:
    """Return first and last row of every stretch that is marked."""
    edges = np.diff(np.concatenate([[0], marked.astype(np.int8), [0]]))
    return list(
        zip(np.flatnonzero(edges == 1).tolist(), (np.flatnonzero(edges == -1) - 1).tolist(), strict=True)
    )


def widened(labels: Flags, buffer: int) -> Floats:
    """Return labels between 0 and 1, falling off over half a buffer on either side of each event."""
    soft = labels.astype(np.float64)
    for first, last in segments(labels):
        after = np.arange(last, min(last + buffer // 2, len(soft)))
        soft[after] += np.sqrt(1.0 - (after - last) / buffer) if buffer else 0.0
        before = np.arange(max(first - buffer // 2, 0), first)
        soft[before] += np.sqrt(1.0 - (first - before) / buffer) if buffer else 0.0
    return np.minimum(soft, 1.0)


def range_pr(labels: Flags, score: Floats, buffer: int) -> float:
    """Area under the precision-recall curve of one buffer."""
    soft = widened(labels, buffer)
    order = np.argsort(-score, kind="stable")
    falling = score[order]
    limits = falling[np.linspace(0, len(score) - 1, THRESHOLDS).astype(int)]
    said = np.searchsorted(-falling, -limits, side="right")  # rows at or above each limit
    hits = np.concatenate([[0.0], np.cumsum(soft[order])])[said]
    positives = (labels.sum() + soft.sum()) / 2.0
    peaks = np.array([score[first : last + 1].max() for first, last in segments(soft > 0)])
    touched = (peaks[None, :] >= limits[:, None]).mean(axis=1)
    recall = np.concatenate([[0.0], np.minimum(hits / positives, 1.0) * touched])
    precision = np.concatenate([[1.0], hits / said])
    return float((np.diff(recall) * (precision[1:] + precision[:-1]) / 2.0).sum())


def vus_pr(labels: Flags, score: Floats, widest: int = WIDEST) -> float | None:
    """Mean of `range_pr` over the buffers 0 to `widest` [rows]; None without any event."""
    if not labels.any():
        return None
    return float(np.mean([range_pr(labels, score, buffer) for buffer in range(widest + 1)]))
