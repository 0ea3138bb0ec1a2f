"""Onset: since when a record has been moving, as a probability over quarter hours, never as one instant.

The departures are whitened by their own memory and cut at four sds, so that neither a slow wander nor one
wild reading passes for a beginning. Every quarter hour and every steepness is then a candidate: level
before, a ramp, a plateau after. The bar a move must pass is the record's own: what the same search finds
in windows of its past in which nothing was looked for.
"""

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from pipeline.spc.robust import lag_one, robust_sd

Floats = NDArray[np.float64]

BEFORE, AFTER = 64, 24
"""Quarter hours about the anchor in which a beginning is looked for."""
LEAD, TAIL = 32, 24
"""Quarter hours that the search sees before and after those."""
STEEPNESS = (1, 2, 4, 8, 16, 32)
"""Quarter hours from the level before to the plateau."""
CLIP_SD = 4.0
LARGE = 1.0
"""Of a large move all its height is let through: cut to four sds, a jump would look like a slow rise."""
TEMPER = 0.6
"""Share of the log likelihood that counts: whitening by one memory leaves some correlation standing."""
PAST_WINDOWS = 40
LEAST_SCORE = 4.0
BAR_QUANTILE = 0.975
LEAST_SIZE_SD = 1.5
LENGTH = LEAD + BEFORE + AFTER + TAIL + 1
_FEWEST = 40


@dataclass(frozen=True)
class Onset:
    """When one record began to move.

    Parameters
    ----------
    chance : (BEFORE + AFTER + 1,) array
        Probability of each quarter hour from ``anchor - BEFORE`` on; sums to 1.
    score, bar : float
        How surely it moved, and what it had to pass: square root of twice the log likelihood ratio.
    size : float [sd]
        From the level before to the plateau, signed.
    """

    chance: Floats
    score: float
    bar: float
    size: float

    @property
    def moved(self) -> bool:
        """Whether it moved at all: surer than its own past and more than a little."""
        return self.score > self.bar and abs(self.size) > LEAST_SIZE_SD

    def quantile(self, share: float) -> int:
        """Quarter hours from the anchor by which it had begun with probability `share`."""
        return int(np.searchsorted(np.cumsum(self.chance), share - 1e-12)) - BEFORE


@dataclass(frozen=True)
class Memory:
    """A record's own lag-one correlation and the sd of what is left once that is taken out."""

    phi: float
    sd: float


def memory(past: Floats) -> Memory:
    """Learn the memory of a record from its past departures."""
    phi = lag_one(past)
    spread = robust_sd(past[1:] - phi * past[:-1])
    return Memory(phi, max(spread, 0.05) if np.isfinite(spread) else 1.0)


def onset(
    z: Floats, anchor: int, past: Floats, within: tuple[int, int] | None = None, peak: float = 0.0
) -> Onset | None:
    """Return since when `z` has moved about `anchor`; None where too little is known.

    Parameters
    ----------
    z : (n,) array [sd]
        Departures on quarter hours, NaN where not known.
    anchor : int
        Position in `z` about which it is looked for.
    past : (m,) array [sd]
        Departures of the weeks before, from which memory and bar are learned.
    within : tuple of int, optional
        First and last position at which it can have begun: it was at its usual before, known by then.
    peak : float [sd]
        How far it is known to have gone.
    """
    if np.isfinite(past).sum() < 14 * 96:
        return None
    own = memory(past)
    window = _window(z, anchor)
    if np.isfinite(window).sum() < _FEWEST:
        return None
    part = _part(anchor, within)
    ratio, size = (rows[0, part] for rows in _search(window[None, :], own))
    large = LARGE * max(abs(float(size[ratio.argmax()])), abs(peak)) / own.sd
    if large > CLIP_SD:
        ratio, size = (rows[0, part] for rows in _search(window[None, :], own, large))
    weight = np.zeros(BEFORE + AFTER + 1)
    weight[part] = np.exp(TEMPER * (ratio - ratio.max()))
    best = int(ratio.argmax())
    return Onset(weight / weight.sum(), float(np.sqrt(2.0 * ratio[best])), _bar(past, own), float(size[best]))


def _part(anchor: int, within: tuple[int, int] | None) -> slice:
    """Candidates that lie within two positions; at least one."""
    if within is None:
        return slice(None)
    first, last = (min(max(at - anchor + BEFORE, 0), BEFORE + AFTER) for at in within)
    return slice(first, max(last, first) + 1)


def _window(z: Floats, anchor: int) -> Floats:
    first = anchor - BEFORE - LEAD
    rows = np.arange(first, first + LENGTH)
    known = (rows >= 0) & (rows < len(z))
    return np.where(known, z[np.clip(rows, 0, len(z) - 1)], np.nan)


def _bar(past: Floats, own: Memory) -> float:
    """Score that the same search reaches in the record's own past but one time in forty."""
    starts = np.linspace(0, len(past) - LENGTH, PAST_WINDOWS).astype(np.int64)
    windows = np.stack([past[start : start + LENGTH] for start in starts])
    windows = windows[np.isfinite(windows).sum(axis=1) >= _FEWEST]
    if len(windows) == 0:
        return LEAST_SCORE
    ratio, _ = _search(windows, own)
    return max(LEAST_SCORE, float(np.quantile(np.sqrt(2.0 * ratio.max(axis=1)), BAR_QUANTILE)))


def _search(windows: Floats, own: Memory, clip: float = CLIP_SD) -> tuple[Floats, Floats]:
    """Log likelihood ratio and size of a move that begins at each candidate, the best steepness of each."""
    white = np.full(windows.shape, np.nan)
    white[:, 1:] = (windows[:, 1:] - own.phi * windows[:, :-1]) / own.sd
    known = np.isfinite(white)
    white = np.where(known, np.clip(white, -clip, clip), 0.0)
    shapes = _shapes()
    lagged = np.concatenate([np.zeros((*shapes.shape[:2], 1)), shapes[..., :-1]], axis=2)
    seen = (shapes - own.phi * lagged) / own.sd
    flat = seen.reshape(-1, LENGTH)
    pull = white @ flat.T
    power = known.astype(np.float64) @ (flat**2).T
    power = np.maximum(power, 1e-9)
    ratio = (0.5 * pull**2 / power).reshape(len(windows), *shapes.shape[:2])
    size = (pull / power).reshape(ratio.shape)
    best = ratio.argmax(axis=1)[:, None, :]
    ratio, size = (np.take_along_axis(table, best, 1)[:, 0] for table in (ratio, size))
    return ratio, size


@cache
def _shapes() -> Floats:
    """Every candidate: (steepness, onset, quarter hour)."""
    at = np.arange(LENGTH)[None, None, :]
    begin = np.arange(LEAD, LEAD + BEFORE + AFTER + 1)[None, :, None]
    steep = np.array(STEEPNESS)[:, None, None]
    return np.asarray(np.clip((at - begin + 1) / steep, 0.0, 1.0), np.float64)
