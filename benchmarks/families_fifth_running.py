"""Fifth family, running: when the plant runs, by a tank that asks for water or all the time."""

from dataclasses import dataclass

import numpy as np
from scipy.signal import lfilter

from benchmarks.families import STEPS_A_DAY, YEAR_DAYS, Bools, Clock, Floats

STOPS = 4.0  # a year
STALE_HOURS, DRAWDOWN_HOURS = 0.3, 1.2
LOW, HIGH = -0.8, 1.0


@dataclass(frozen=True)
class Cycles:
    """Wells that run as a tank asks: running, its level, whose turn it is, drawdown, stale water."""

    running: Bools
    tank: Floats
    well: Floats
    drawn: Floats
    stale: Floats


def cycles(random: np.random.Generator, clock: Clock, demand: Floats) -> Cycles:
    """Run wells by turns from the low to the high level of a tank that empties with the demand."""
    size = LOW_A_ROW * random.uniform(0.7, 1.4)
    empties = size * np.clip(1.0 + 0.7 * demand, 0.15, None)
    fills = size * random.uniform(2.6, 4.0)
    off = ~running(random, clock)
    runs, tank, turns = _filled(empties, fills, off)
    kept = float(np.exp(-24.0 / (STEPS_A_DAY * DRAWDOWN_HOURS)))
    drawn = np.asarray(lfilter([1 - kept], [1.0, -kept], runs.astype(float)))
    since = _since_start(runs)
    stale = np.where(runs, np.exp(-since / (4.0 * STALE_HOURS)), 1.0)
    return Cycles(runs, tank, np.where(turns % 2 == 0, 1.0, -1.0), drawn, stale)


LOW_A_ROW = 0.12
"""Share of the tank's half swing that goes in a quarter of an hour, usually: some four fillings a day."""


def _filled(empties: Floats, fills: float, off: Bools) -> tuple[Bools, Floats, Floats]:
    """Whether a well runs, the tank's level, and how many fillings there have been, row by row."""
    level, is_on, turn = 0.5, False, 0
    runs, tank, turns = [], [], []
    for out, is_off in zip(empties.tolist(), off.tolist(), strict=True):
        if not is_on and level < LOW:
            is_on, turn = True, turn + 1
        elif is_on and level > HIGH:
            is_on = False
        level = max(level + (fills if is_on and not is_off else 0.0) - out, -1.8)
        runs.append(is_on and not is_off)
        tank.append(level)
        turns.append(turn)
    return np.array(runs), np.array(tank), np.array(turns, dtype=float)


def _since_start(runs: Bools) -> Floats:
    """Rows since a well last started."""
    row = np.arange(len(runs), dtype=float)
    starts = np.where(runs & ~np.concatenate([[False], runs[:-1]]), row, 0.0)
    return row - np.maximum.accumulate(starts)


def running(random: np.random.Generator, clock: Clock) -> Bools:
    """All the time, less some stops of an hour to ten."""
    runs = np.ones(len(clock.day), dtype=bool)
    for begin in random.uniform(0, clock.day[-1], random.poisson(STOPS * clock.day[-1] / YEAR_DAYS)):
        runs[(clock.day >= begin) & (clock.day < begin + random.uniform(1, 10) / 24)] = False
    return runs


def settled(runs: Bools, rows: int) -> Bools:
    """Whether it has been running for so many rows."""
    total = np.cumsum(np.concatenate([np.zeros(rows), runs.astype(float)]))
    return np.asarray(total[rows:] - total[:-rows] >= rows)
