"""Recording: how often a tag is written down: at intervals, on change, or thinned out by its recorder."""

from collections import Counter
from dataclasses import dataclass
from datetime import timedelta

import polars as pl

from pipeline.baseline.stuck import MOST_REPEATS
from pipeline.baseline.thinned import repeat_share
from pipeline.setup.guess import Guess, Signal, share

LEAST_REGULAR_SHARE = 0.7
"""Share of waits equal to the usual one from which a recording counts as one at intervals."""
NEAR = 0.1
"""Waits within this share of each other are the same."""
FEWEST_WAITS = 5
FEWEST_VALUES = 3
FEWEST_CHANGES = 3
MOST_CHANGING_SHARE = 0.5
LEAST_EARLY_SHARE = 0.5
LEAST_TOLD_SHARE = 0.8
"""What mostly stands still is recorded on change, and its regular readings are a heartbeat, where more than
half of its changes came before the next reading was due, or where what was written off the regular beat was
a change (four times in five)."""
FEWEST_HEARTBEATS = 5
LEAST_HEARTBEAT_SHARE = 0.5
USUAL_STEPS_S = (1, 2, 5, 10, 15, 20, 30, 60, 120, 300, 600, 900, 1200, 1800, 3600, 7200, 14400, 43200, 86400)
DEFAULT_STEP_S = 900
_DAY_MS = 86_400_000
NOT_JUDGEABLE = "a stuck reading cannot be told"


@dataclass(frozen=True)
class Recording:
    """Drafts of ``step_s``, ``recording`` and ``heartbeat_s``, and whether the record is thinned out."""

    step_s: Guess
    recording: Guess
    heartbeat_s: Guess
    thinned: str = ""


def recording(signal: Signal, is_state: bool) -> Recording:
    """Judge by the waits between readings, and by how often a value repeats itself."""
    waits = [wait for wait in signal.waits.dt.total_milliseconds().to_list() if wait > 0]
    if len(waits) < FEWEST_WAITS:
        daily = waits and not any(wait % _DAY_MS for wait in waits)
        told = "the few readings lie whole days apart" if daily else "too few readings to tell the step"
        step = Guess(str(_DAY_MS // 1000 if daily else DEFAULT_STEP_S), told)
        return Recording(step, Guess("interval"), Guess(""))
    usual, times = _usual(waits)
    regular = share(times, len(waits))
    step_s = _round_step(usual / 1000)
    if regular >= LEAST_REGULAR_SHARE and not _speaks_up_between(signal, usual):
        step = Guess(_seconds(step_s), f"{regular:.0%} of readings follow after {_words(step_s)}")
        return Recording(step, Guess("interval"), Guess(""), _staircase(signal, is_state))
    repeats = repeat_share(_moving(signal))
    heartbeat = _heartbeat(signal)
    if repeats > MOST_REPEATS and not heartbeat.value:
        step = Guess(
            _seconds(step_s), f"irregular: only {regular:.0%} of readings follow after {_words(step_s)}"
        )
        return Recording(step, Guess("interval"), Guess(""), _staircase(signal, is_state))
    least = _round_step(_least(waits) / 1000)
    step = Guess(_seconds(least), f"irregular, at least {_words(least)} apart")
    said = (
        f"no regular step ({regular:.0%} alike) and {1 - repeats:.0%} of readings differ from the one before"
    )
    return Recording(step, Guess("on change", said), heartbeat, _deadband(signal, is_state))


def _usual(waits: list[int]) -> tuple[int, int]:
    """Return the commonest wait [ms], and how many are about as long."""
    usual = max(Counter(waits).items(), key=lambda item: (item[1], -item[0]))[0]
    return usual, sum(abs(wait - usual) <= NEAR * usual for wait in waits)


def _speaks_up_between(signal: Signal, usual: int) -> bool:
    """Whether the regular readings are a heartbeat: what changes is written down between them."""
    rows = _steps(signal)
    changes = rows.filter(~pl.col("same"))
    if share(changes.height, rows.height) >= MOST_CHANGING_SHARE:
        return False
    early = changes.filter(pl.col("wait") < (1 - NEAR) * usual)
    if early.height >= FEWEST_CHANGES and share(early.height, changes.height) > LEAST_EARLY_SHARE:
        return True
    beat = rows["phase"] % usual
    usual_beat = beat.mode().sort()[0]
    between = rows.filter((beat - usual_beat).abs() > NEAR * usual)
    told = share(between.filter(~pl.col("same")).height, between.height)
    return between.height >= FEWEST_CHANGES and told >= LEAST_TOLD_SHARE


def _steps(signal: Signal) -> pl.DataFrame:
    """Return ``wait``, ``phase`` [ms] and ``same`` of every reading.

    How long it came after the one before, its time, and whether it is equal to the one before.
    """
    return signal.readings.select(
        pl.col("time").diff().dt.total_milliseconds().alias("wait"),
        pl.col("time").dt.epoch("ms").alias("phase"),
        (pl.col("text") == pl.col("text").shift(1)).alias("same"),
    ).filter(pl.col("wait") > 0)


def _moving(signal: Signal) -> pl.Series:
    """Return the values without zeros: a pump that stands repeats itself, and no recorder is to blame."""
    return signal.numbers.filter(signal.numbers != 0)


def _least(waits: list[int]) -> int:
    """Return the shortest wait that is no freak [ms]: one in a hundred is shorter."""
    return sorted(waits)[len(waits) // 100]


def _heartbeat(signal: Signal) -> Guess:
    """Return the wait after which an unchanged value is written again: the commonest between equal values."""
    waits = _steps(signal).filter("same")["wait"].to_list()
    if len(waits) < FEWEST_HEARTBEATS:
        return Guess("", "no heartbeat seen: a dead tag looks like a steady one")
    usual, times = _usual(waits)
    if share(times, len(waits)) < LEAST_HEARTBEAT_SHARE:
        return Guess("", "no heartbeat seen: a dead tag looks like a steady one")
    seconds = _round_step(usual / 1000)
    return Guess(_seconds(seconds), f"unchanged values return after {_words(seconds)} ({times} times)")


def _staircase(signal: Signal, is_state: bool) -> str:
    repeats = repeat_share(_moving(signal))
    if is_state or repeats <= MOST_REPEATS or signal.numbers.n_unique() < FEWEST_VALUES:
        return ""
    return f"{repeats:.0%} of readings repeat the one before (thinned out, or coarse): {NOT_JUDGEABLE}"


def _deadband(signal: Signal, is_state: bool) -> str:
    if is_state:
        return ""
    return f"thinned out by the recorder: {NOT_JUDGEABLE}"


def _round_step(seconds: float) -> float:
    near = [step for step in USUAL_STEPS_S if abs(step - seconds) <= 0.02 * step]
    return float(near[0]) if near else round(seconds, 3)


def _seconds(seconds: float) -> str:
    return f"{seconds:g}"


def _words(seconds: float) -> str:
    length = timedelta(seconds=seconds)
    if length >= timedelta(hours=1) and length % timedelta(hours=1) == timedelta():
        return f"{length // timedelta(hours=1)} h"
    if length >= timedelta(minutes=1) and length % timedelta(minutes=1) == timedelta():
        return f"{length // timedelta(minutes=1)} min"
    return f"{seconds:g} s"
