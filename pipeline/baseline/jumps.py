"""Jumps: the level of a signal changes by a factor, from one reading to the next, and stays.

The edge is the mean of four readings against the four before it, on the logarithmic scale; its bar is
learned from the signal's own edges of the year before. The two days after must hold the new level, and
where the scatter is an amount it must have grown by the same factor: the water would not do that. Below a
step of the recording it cannot be seen to, and bears nothing out.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from pipeline.baseline.blocks import blocks_of
from pipeline.baseline.signal import Signal

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

EDGE_READINGS = 4
LEARN_DAYS = 364
FEWEST_DAYS = 42
BEYOND_HABIT = 1.3
BEFORE_DAYS, AFTER_DAYS = 7, 2
WITHIN_DAYS = 4
SMALLEST_SLACK, SLACK_SHARE = 0.08, 0.5
SMALLEST_SCATTER_SLACK, SCATTER_SLACK_SHARE = 0.25, 0.3
SILENCE_EDGE = float(np.log(2.0))
STEP_SHARE = 0.7
"""Of a jump: so much at least must come in one step."""

SHARP_SHARE = 0.8
"""Of the smallest jump: noise may take so much from its one steep step."""

BORNE_OUT_EDGE = float(np.log(1.5))
"""Of a smaller jump two days' scatter cannot tell whether it grew."""

ROUNDING = 0.6
"""Scatter of a value that flickers between two steps of the recording, in steps."""

FAHRENHEIT = (1.8, 32.0)


@dataclass(frozen=True)
class Jump:
    """One jump that stayed.

    Parameters
    ----------
    at : int
        Which of the signal's readings was the first at the new level.
    row, crossed : int
        Rows: the day of the jump, the day on which what was known first sufficed.
    factor : float
        New level over old.
    before : float [unit]
        Level of the week before.
    scale : float
        Factor by which differences grew; other than `factor` only between degrees C and F.
    is_borne_out : bool
        Whether the scatter was seen to grow or shrink with it although it need not have.
    """

    at: int
    row: int
    crossed: int
    factor: float
    before: float
    scale: float
    is_borne_out: bool


def jumps(signal: Signal, resolution: float, is_share: bool, least_factor: float) -> list[Jump]:
    """Return the jumps of the level by at least `least_factor`, up or down, oldest first.

    Parameters
    ----------
    signal : Signal
    resolution : float [unit of the tag]
    is_share : bool
        Whether the scatter of this signal grows with its level anyway.
    least_factor : float
        Above 1.
    """
    least = float(np.log(least_factor))
    # Most signals make no such step at all.
    if len(signal.value) < 2 * EDGE_READINGS or not _steep(signal.value, least).size:
        return []
    return _Walk(signal, least, None if is_share else resolution).jumps(least)


def _steep(value: Floats, least: float) -> Ints:
    """Which values lie so far from the one before that they may be such a jump, or raise the bar for one."""
    # A hair less, or a step of exactly that height would hang on rounding.
    times = np.exp(SHARP_SHARE * least / BEYOND_HABIT) * (1.0 - 1e-9)
    later, earlier = value[1:], value[:-1]
    return 1 + np.flatnonzero((later >= times * earlier) | (earlier >= times * later))


class _Walk:
    def __init__(self, signal: Signal, least: float, resolution: float | None) -> None:
        self.signal, self.resolution = signal, resolution
        self.positive = positive = np.flatnonzero(signal.value > 0)
        # Most signals are positive throughout: then nothing need be picked out.
        pick = slice(None) if len(positive) == len(signal.value) else positive
        value, self.row = signal.value[pick], signal.row[pick]
        self.steep = steep = _steep(value, least)
        self.log_value = np.log(value)
        self.edge = _edges(self.log_value, steep)
        step = self.log_value[steep] - self.log_value[steep - 1]
        # A slope has edges too, but none of its single steps is as high.
        self.sharp = np.where(step * self.edge > 0, np.minimum(np.abs(step), np.abs(self.edge)), 0.0)
        # Over a silence the water may have moved; only much more than it does is looked at.
        follows = signal.joined[positive[steep]] & (positive[steep] - positive[steep - 1] == 1)
        self.sharp[~follows & (self.sharp < SILENCE_EDGE)] = 0.0
        self.count = np.bincount(self.row, minlength=signal.days)
        self.highest = np.where(self.count > 0, 0.0, np.nan)
        np.maximum.at(self.highest, self.row[steep], self.sharp)

    @cached_property
    def level(self) -> Floats:
        """Mean logarithm of each day; asked for only where something may have jumped."""
        total = np.bincount(self.row, self.log_value, self.signal.days)
        return np.where(self.count >= EDGE_READINGS, total / np.maximum(self.count, 1), np.nan)

    def jumps(self, least: float) -> list[Jump]:
        found: list[Jump] = []
        usual = self.highest.copy()
        for _, here in blocks_of(self.signal.day):
            past = usual[max(here.start - LEARN_DAYS, 0) : here.start]
            past = np.sort(past[np.isfinite(past)])
            if len(past) < FEWEST_DAYS:
                continue
            bar = max(SHARP_SHARE * least, BEYOND_HABIT * float(past[-2]))
            for row in here.start + np.flatnonzero(self.highest[here] >= bar):
                jump = self._verified(int(row), least, found[-1].crossed if found else -1)
                if jump is not None:
                    found.append(jump)
                    usual[row - 1 : jump.crossed + 1] = np.nan
        return found

    def _verified(self, row: int, least: float, after: int) -> Jump | None:
        at = slice(*np.searchsorted(self.row[self.steep], [row, row + 1]))
        top = at.start + int(np.argmax(self.sharp[at]))
        edge = float(self.edge[top])
        known = row + 1 + np.flatnonzero(np.isfinite(self.level[row + 1 : row + 1 + WITHIN_DAYS]))
        before = self.level[max(row - BEFORE_DAYS, 0) : row]
        if row <= after or len(known) < AFTER_DAYS or np.isfinite(before).sum() < BEFORE_DAYS // 2:
            return None
        crossed = int(known[AFTER_DAYS - 1])
        new = self.level[known[:AFTER_DAYS]]
        old = float(np.nanmedian(before))
        is_step = float(self.sharp[top]) >= STEP_SHARE * abs(edge)
        if not is_step or abs(edge) < least or not _stays(edge, before, new):
            return None
        usual = self._usual(row)
        scale = self._scale(row, crossed, old, edge, usual)
        if scale is None:
            return None
        factor, before_it, scale = (float(np.exp(log)) for log in (edge, old, scale))
        at_reading = int(self.positive[self.steep[top]])
        # What would be less than a step of the recording was not seen to be so.
        is_borne_out = self.resolution is not None and abs(edge) >= BORNE_OUT_EDGE
        is_borne_out &= bool(usual + np.log(scale) >= np.log(max(self.resolution or 0.0, 1e-12)))
        return Jump(at_reading, row, crossed, factor, before_it, scale, is_borne_out)

    def _usual(self, row: int) -> float:
        """Log of the scatter of the two weeks before a day; NaN where none is known."""
        before = self.signal.roughness[max(row - 2 * BEFORE_DAYS, 0) : row]
        return float(np.nanmedian(before)) if np.isfinite(before).any() else np.nan

    def _scale(self, row: int, crossed: int, old: float, edge: float, usual: float) -> float | None:
        """Log of the factor of the scatter, where it bears the jump out; None where it does not."""
        if self.resolution is None:
            return edge
        after = self.signal.roughness[row + 1 : crossed + 1]
        if not np.isfinite(usual):
            return None
        now = float(np.nanmean(after)) if np.isfinite(after).any() else -np.inf
        slack = max(SMALLEST_SCATTER_SLACK, SCATTER_SLACK_SHARE * abs(edge))
        if abs(now - usual - edge) <= slack:
            return edge
        # What became too small for the recording's steps scatters as these do, or not at all.
        rounding = float(np.log(max(self.resolution, 1e-12) * ROUNDING))
        if edge < 0 and now <= max(usual + edge, rounding) + slack:
            return edge
        grew = now - usual
        return _between_degrees(float(np.exp(old)), edge, grew)


def _stays(edge: float, before: Floats, new: Floats) -> bool:
    """Whether the new days lie an edge beside the week before, or its last day: the water moves on."""
    slack = max(SMALLEST_SLACK, SLACK_SHARE * abs(edge))
    last = before[np.isfinite(before)][-1]
    return any(np.abs(new - old - edge).max() <= slack for old in (np.nanmedian(before), last))


def _between_degrees(old: float, edge: float, grew: float) -> float | None:
    """Log of 1.8 or 1 / 1.8 where the jump is one between degrees C and F, else None."""
    factor, zero = FAHRENHEIT
    new, slack = old * float(np.exp(edge)), SMALLEST_SLACK
    for expected, scale in ((factor * old + zero, np.log(factor)), ((old - zero) / factor, -np.log(factor))):
        if expected > 0 and abs(np.log(new / expected)) <= slack and abs(grew - scale) <= 2.5 * slack:
            return float(scale)
    return None


def _edges(values: Floats, at: Ints) -> Floats:
    """Mean of each value `at` and the three after it less the mean of the four before; 0 near the ends."""
    k = EDGE_READINGS
    total = np.zeros(len(values) + 1)
    np.cumsum(values, out=total[1:])
    edge = np.zeros(len(at))
    inside = (at >= k) & (at <= len(values) - k)
    middle = at[inside]
    edge[inside] = (total[middle + k] - 2 * total[middle] + total[middle - k]) / k
    return edge
