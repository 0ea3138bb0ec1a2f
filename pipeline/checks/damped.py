"""Damped: readings that move less from one to the next than the signal's own past makes likely."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from math import exp

import numpy as np

from pipeline.baseline.apart import Spell
from pipeline.baseline.scale import on_scale
from pipeline.baseline.signal import Signal, signal_of, steps_of
from pipeline.case import Case
from pipeline.evidence.liveliness import duller, scatter_of
from pipeline.finding import Finding
from pipeline.neighbours.demand import is_demand
from pipeline.recording import of_recording
from pipeline.wording import day_text, scatter

RESTING_DAYS = 7
"""So many days in a row must each bear it out where a step of the display hides the scatter: weather moves
the water on sooner. Common practice, no source."""

LEVEL_READINGS = 96
"""The median of so many readings is where it read [15-minute readings of a day]."""


@dataclass(frozen=True)
class Settings:
    """What is worth a word."""

    times: float = 1.5
    """The usual scatter over so much is worth a visit. Common practice, no source."""


def find(case: Case, settings: Settings) -> Iterator[Finding]:
    """Yield a finding for every stretch in which the readings have lost their liveliness.

    What is usual is learned per signal from the year before (`pipeline.evidence.liveliness`). A thinned
    record, a level and a pressure are not judged: their steps are not the instrument's. A blocked sample
    line is the usual reason; a record that is flat altogether is `frozen`. One that scatters by less
    than a step of its display rests while the water stands between two steps: it must do so day after day.
    A flow that fell or rose on that day with the demand (`pipeline.neighbours.demand`) is for the record.
    """
    signal = signal_of(case)
    if signal is None:
        return
    found = duller(case, settings.times)
    shown = [one for one in found if _is_shown(case, signal, one)]
    if len(shown) < len(found):
        resting = duller(case, settings.times, RESTING_DAYS)
        shown += [one for one in resting if not _is_shown(case, signal, one)]
    for spell in sorted(shown, key=lambda one: one.crossed):
        yield _finding(case, signal, spell)


def _is_shown(case: Case, signal: Signal, spell: Spell) -> bool:
    """Whether its usual scatter was a step of its display or more, as that was before the spell."""
    before = max(spell.begin - 1, 0)
    until = int(np.searchsorted(signal.row, before, side="right"))
    level = float(np.median(signal.value[max(until - LEVEL_READINGS, 0) : until]))
    step = on_scale(case.tag, float(steps_of(case, signal)[before]), level)
    return scatter_of(spell.usual) >= step


def _finding(case: Case, signal: Signal, spell: Spell) -> Finding:
    lasted = signal.stretch(spell.begin, spell.over, case.zone)
    evidence, crossed = _evidence(case, spell, lasted[0]), signal.date(spell.crossed)
    if demand := is_demand(case, signal.date(spell.begin), crossed):
        return of_recording(case, "damped", "note", crossed, lasted, f"{evidence} {demand}")
    return of_recording(case, "damped", "watch", crossed, lasted, evidence)


def _evidence(case: Case, spell: Spell, start: datetime) -> str:
    since = day_text(start, case.zone)
    now, before = (scatter(case.tag, scatter_of(spell.usual + more)) for more in (spell.size, 0.0))
    return (
        f"Its readings move {exp(spell.size):.2f} times as much from one to the next as they used to "
        f"({now} instead of {before}), since {since}; "
        f"held against {spell.past_days} days of its own past. What it shows may come late and too smooth."
    )
