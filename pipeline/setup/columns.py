"""Columns: which of an export hold readings, and which hold flags, codes and remarks to leave out."""

from collections.abc import Sequence
from dataclasses import dataclass

import polars as pl

from pipeline.ingest.values import NO_NUMBER
from pipeline.setup.guess import Signal, share
from pipeline.setup.states import states

MOST_TEXT_SHARE = 0.5
"""A column whose filled cells are text more often than this is none of readings."""
FEWEST_ALIKE = 2
"""So many columns with the same beginning are left out with one pattern."""


@dataclass(frozen=True)
class LeftOut:
    """A column, or a pattern of columns, that holds no readings, and why we think so."""

    pattern: str
    evidence: str


def is_reading(signal: Signal) -> bool:
    """Whether a column's cells are numbers, or the words of a state."""
    if share(len(odd_words(signal)), signal.readings.height) <= MOST_TEXT_SHARE:
        return not signal.numbers.is_empty() or states(signal) is not None
    return states(signal) is not None


def odd_words(signal: Signal) -> pl.Series:
    """Return the texts that are no number, nor one of those that recorders write where there is none."""
    return signal.words.filter(~signal.words.str.to_lowercase().is_in(sorted(NO_NUMBER)))


def left_out(signals: Sequence[Signal]) -> list[LeftOut]:
    """Return what ``[reading] ignore_columns`` should say.

    Flag columns that stand beside a column of readings each (``F_Temp`` beside ``Temp``) become one
    pattern, where it catches no column of readings.
    """
    kept = {signal.name for signal in signals if is_reading(signal)}
    others = [signal for signal in signals if signal.name not in kept]
    found: list[LeftOut] = []
    done: set[str] = set()
    for prefix in _prefixes([signal.name for signal in others], kept):
        alike = [signal for signal in others if signal.name.startswith(prefix)]
        done |= {signal.name for signal in alike}
        text = f"{len(alike)} columns such as {alike[0].name} hold text such as {alike[0].sample!r}"
        found.append(LeftOut(f"{_plain(prefix)}*", text))
    rest = [signal for signal in others if signal.name not in done]
    return found + [LeftOut(_plain(signal.name), _why(signal)) for signal in rest]


def _why(signal: Signal) -> str:
    if signal.words.n_unique() == 1 and signal.numbers.is_empty():
        return f"always the same text, {signal.sample!r}"
    return f"{len(signal.words)} of {signal.readings.height} cells are text such as {signal.sample!r}"


def _prefixes(names: list[str], kept: set[str]) -> list[str]:
    """Return beginnings such as ``F_`` that turn the name of a reading into the name of its flag."""
    beginnings = [name[: -len(other)] for name in names for other in kept if name.endswith(other)]
    counted = {prefix: beginnings.count(prefix) for prefix in beginnings if prefix}
    return [
        prefix
        for prefix in sorted(counted)
        if counted[prefix] >= FEWEST_ALIKE and not any(name.startswith(prefix) for name in kept)
    ]


def _plain(name: str) -> str:
    """Return a name as a shell pattern that means nothing but itself."""
    return "".join(f"[{letter}]" if letter in "*?[" else letter for letter in name)
