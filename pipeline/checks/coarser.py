"""Coarser: readings in larger steps than the recording used to have."""

from collections.abc import Iterator
from dataclasses import dataclass
from math import exp, log

import numpy as np
from numpy.typing import NDArray

from pipeline.baseline.apart import Bar, Spell, spells
from pipeline.baseline.signal import Signal, fewest_of, grains_of, signal_of
from pipeline.case import Case
from pipeline.finding import Finding
from pipeline.recording import of_recording
from pipeline.wording import day_text, number

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Settings:
    """What is worth a word."""

    times: float = 3.0
    """So many times the usual step. Between two recordings it is seldom less: a digit, a few bits of a card.
    Common practice, no source."""

    pooled_days: int = 3
    """So many days must all lie on the coarser steps [d]."""

    fewest_readings: int = 48
    """A day must hold so many. Of a dozen readings no two need lie next to each other, however fine the
    steps are; of 48, a good thousand pairs, some do unless the signal roams over hundreds of steps."""


def find(case: Case, settings: Settings) -> Iterator[Finding]:
    """Yield a finding for every stretch whose readings all lie on coarser steps than before.

    The step is the smallest difference between any two readings of some days in a row: one reading in
    between shows that the recording is as fine as it was.
    """
    signal = signal_of(case)
    if signal is None:
        return
    fewest = max(fewest_of(case), settings.fewest_readings)
    step = np.where(signal.readings < fewest, np.nan, grains_of(case))
    pooled = np.log(_smallest(step, settings.pooled_days))
    # A hair below the factor, or a step of exactly that factor would hang on rounding.
    bar = Bar(2.0, log(0.97 * settings.times), np.inf, windows=(1, 2), calm_window=0)
    for spell in spells(signal.day, pooled, bar):
        yield _finding(case, settings, signal, spell)


def _smallest(step: Floats, days: int) -> Floats:
    """Smallest step of the last days up to each; NaN where fewer than two of them have one."""
    padded = np.append(np.full(days - 1, np.nan), step)
    pooled = np.lib.stride_tricks.sliding_window_view(padded, days)
    known = np.isfinite(pooled)
    smallest = np.where(known, pooled, np.inf).min(axis=1)
    return np.where(known.sum(axis=1) >= 2, smallest, np.nan)


def _finding(case: Case, settings: Settings, signal: Signal, spell: Spell) -> Finding:
    # The first day whose pool lies on the coarser steps is the last of that pool.
    first = max(spell.begin - settings.pooled_days + 1, 0)
    lasted = signal.stretch(first, spell.over, case.zone)
    before, now = exp(spell.usual), exp(spell.usual + spell.size)
    return of_recording(
        case,
        kind="coarser",
        severity="note",
        crossed=signal.date(spell.crossed),
        lasted=lasted,
        evidence=(
            f"Its readings lie {number(case.tag, now)} apart or more since {day_text(lasted[0], case.zone)}; "
            f"before, the smallest step was {number(case.tag, before)} ({spell.past_days} days). What is "
            "smaller than a step is no longer seen."
        ),
    )
