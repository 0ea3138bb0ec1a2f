"""Switches: what operators and controls did on the same time line, and which of it is out of the ordinary.

A switch is out of the ordinary where the tag hardly ever went into that state at that time of the day, and
a state where it has lasted longer than it ever did in the weeks before.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.case import Case
from pipeline.epoch import MICROSECOND, epoch_us, instant_of

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

LEARN = timedelta(days=56)
NEAR = timedelta(hours=1)
RARE_SHARE = 0.04
"""Of the days before on which the same switch fell within an hour of this time of day: once in four weeks."""
OVERDUE_FACTOR = 1.25
FEWEST_RUNS = 3
DAY = timedelta(days=1)


@dataclass(frozen=True)
class Switch:
    """One change of a state, or a state that lasts too long.

    Parameters
    ----------
    tag, area : str
    time : datetime
        Of the change; of an overdue state, when it had lasted as long as ever before [UTC].
    before, after : str
        States, as the config calls them.
    is_rare : bool
        Out of the ordinary.
    overdue_minutes : float
        How much longer than ever it then lasted; 0 for a change.
    overdue_known_minutes : float
        After which it was clear that it did.
    is_twice_the_longest : bool
        It lasted twice as long as ever, and then an hour at least.
    """

    tag: str
    area: str
    time: datetime
    before: str
    after: str
    is_rare: bool
    overdue_minutes: float = 0.0
    overdue_known_minutes: float = 0.0
    is_twice_the_longest: bool = False


@dataclass(frozen=True)
class _Runs:
    """Stretches in one state each, oldest first; times in microseconds since 1970.

    `follows` = whether it follows the stretch before it without a silence, so that a switch was seen.
    """

    start: Ints
    end: Ints
    value: Floats
    follows: Bools


def switches(cases: Iterable[Case], start: datetime, end: datetime) -> list[Switch]:
    """Return all changes of state between two instants, and states overdue then, by time.

    Each is judged by the eight weeks before it, whatever `start` is.
    """
    found: list[Switch] = []
    for case in cases:
        if case.tag.is_state:
            runs = _runs(case, start - 2 * LEARN, end)
            found += [*_changes(case, runs, start), *_overdue(case, runs, start)]
    return sorted(found, key=lambda one: (one.time, one.tag, one.overdue_minutes))


def _runs(case: Case, since: datetime, end: datetime) -> _Runs:
    good = pl.col("good") & (pl.col("time") >= since) & (pl.col("time") < end)
    rows = case.readings.filter(good)
    time = rows["time"].dt.epoch("us").to_numpy()
    value = rows["value"].to_numpy()
    silent = np.append(True, np.diff(time) > case.hold / MICROSECOND)
    begins = np.flatnonzero(np.append(True, value[1:] != value[:-1]) | silent) if len(time) else time
    ends = np.append(time[begins[1:]], time[-1:])
    # Before a silence a state is known to its last reading alone.
    last = np.append(time[begins[1:] - 1], time[-1:])
    cut = np.append(silent[begins[1:]], False)[: len(begins)]
    return _Runs(time[begins], np.where(cut, last, ends), value[begins], ~silent[begins])


def _changes(case: Case, runs: _Runs, start: datetime) -> Iterator[Switch]:
    learn, near, day = (length // MICROSECOND for length in (LEARN, NEAR, DAY))
    for k in range(_first(runs, start), len(runs.start)):
        if k == 0 or not runs.follows[k]:
            continue
        at, before, after = int(runs.start[k]), runs.value[k - 1], runs.value[k]
        earliest = int(np.searchsorted(runs.start, at - learn))
        past = np.arange(max(earliest, 1), k)
        past = past[(runs.value[past] == after) & (runs.value[past - 1] == before)]
        off = at - runs.start[past] + near
        usual = len(set((off[off % day <= 2 * near] // day).tolist()) - {0})
        days = max((at - int(runs.start[earliest])) // day, 1)
        words = _word(case, before), _word(case, after)
        yield Switch(case.tag.tag, case.tag.area, instant_of(at), *words, usual / days < RARE_SHARE)


def _overdue(case: Case, runs: _Runs, start: datetime) -> Iterator[Switch]:
    """Yield the states in which the tag stood a quarter longer than in any run of the weeks before."""
    learn = LEARN // MICROSECOND
    for k in range(max(_first(runs, start) - 1, 1), len(runs.start)):
        begin = int(runs.start[k])
        # The first run of the record may have begun before it.
        past = np.arange(max(int(np.searchsorted(runs.start, begin - learn)), 1), k)
        past = past[runs.value[past] == runs.value[k]]
        if len(past) < FEWEST_RUNS:
            continue
        longest = timedelta(microseconds=int((runs.end[past] - runs.start[past]).max()))
        late = timedelta(microseconds=int(runs.end[k]) - begin) - longest
        bar = max((OVERDUE_FACTOR - 1) * longest, 2 * case.step)
        due = instant_of(begin) + longest
        if late < bar or due < start:
            continue
        twice = late >= max(longest, NEAR)
        known = max(longest, NEAR) if twice else bar
        minutes, known_minutes = (length / timedelta(minutes=1) for length in (late, known))
        word = _word(case, runs.value[k])
        yield Switch(case.tag.tag, case.tag.area, due, word, word, True, minutes, known_minutes, twice)


def _first(runs: _Runs, start: datetime) -> int:
    """Position of the first stretch that begins at or after `start`."""
    return int(np.searchsorted(runs.start, epoch_us(start)))


def _word(case: Case, value: float) -> str:
    names = {number: name for name, number in case.tag.states.items()}
    return names.get(value, f"{value:g}")
