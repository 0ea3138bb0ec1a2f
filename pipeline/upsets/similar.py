"""Similar: earlier windows in which the same tags departed in the same way, by one score for all together.

Departures keep their size, in sds of their own tag, less what is nobody's doing: a window in which
nothing happened is small everywhere and cannot look like anything, and many quiet tags drown nothing. The
score of a window x for the sought one q is

    sum_i <q_i, x_i> / sqrt(sum_i |q_i|^2 * max(sum_i |x_i|^2, NOISE * tags * length))

a cosine over all tags at once, with about the energy of plain noise as the least that x may have.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float32]
Rows = NDArray[np.float32] | NDArray[np.int8]

WINDOW = 96
"""Quarter hours that are compared: a day."""
LEAD = 8
"""Quarter hours of it that lie before the upset began."""
SHRINK_SD = 0.75
"""Taken off every departure, towards nothing."""
NOISE = 0.4
"""Mean square that a departure has at the least after that, on average over a window: normal noise has 0.26,
noise of several memories about half as much again. Both numbers were chosen on family A."""
_BLOCK = 4096


@dataclass(frozen=True)
class Match:
    """A window like the sought one: where it begins, and how like it is (1 = the same shape)."""

    at: int
    score: float


def scores(sought: Floats, record: Rows) -> Floats:
    """Return the score of every window of a record.

    Parameters
    ----------
    sought : (tags, length) array [sd]
    record : (tags, n) array [sd]
        NaN, and in whole-number records -128, where not known: counts as nothing unusual.

    Returns
    -------
    (n - length + 1,) array
        At the position where each window begins.
    """
    tags, length = sought.shape
    count = record.shape[1] - length + 1
    if count <= 0:
        return np.zeros(0, np.float32)
    wanted = np.stack([shrunk(row) for row in sought]) if tags else np.zeros((0, length), np.float32)
    together, energy = _together(wanted, record, length)
    strength = float((wanted.astype(np.float64) ** 2).sum())
    if strength == 0.0:
        return np.zeros(count, np.float32)
    total = np.concatenate([[0.0], np.cumsum(energy)])
    held = np.maximum(total[length:] - total[:-length], NOISE * tags * length)
    return np.asarray(together[:count] / np.sqrt(strength * held), np.float32)


def _together(wanted: Floats, record: Rows, length: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Sum over tags of the sliding inner products, block by block, and of the squares."""
    from scipy.fft import irfft, rfft

    n = record.shape[1]
    hop = _BLOCK - length + 1
    blocks = -(-n // hop)
    total = np.zeros((blocks, _BLOCK // 2 + 1), np.complex64)
    energy = np.zeros(n)
    padded = np.zeros(blocks * hop + length - 1, np.float32)
    views = np.lib.stride_tricks.sliding_window_view(padded, _BLOCK)[::hop]
    for one, row in zip(wanted, record, strict=True):
        padded[:n] = shrunk(row)
        energy += padded[:n].astype(np.float64) ** 2
        if one.any():
            total += rfft(views, axis=1) * np.conj(rfft(one, _BLOCK))
    sums = irfft(total, _BLOCK, axis=1)[:, :hop]
    return sums.ravel()[:n].astype(np.float64), energy


def shrunk(row: Rows) -> Floats:
    """Return a row of departures [sd] shrunk towards nothing; whole numbers are tenths."""
    z = np.where(row == -128, 0, row) * np.float32(0.1) if row.dtype == np.int8 else np.nan_to_num(row)
    return np.asarray(np.sign(z) * np.maximum(np.abs(z) - SHRINK_SD, 0.0), np.float32)


def best(every: Floats, most: int, apart: int = WINDOW, without: tuple[int, ...] = ()) -> list[Match]:
    """Return the windows most alike, best first, at least `apart` from each other and from `without`."""
    left = every.copy()
    for at in without:
        left[max(at - apart, 0) : at + apart + 1] = -np.inf
    found: list[Match] = []
    while len(found) < most and len(left):
        at = int(left.argmax())
        if not left[at] > 0:
            break
        found.append(Match(at, float(left[at])))
        left[max(at - apart, 0) : at + apart + 1] = -np.inf
    return found
