"""Noisy: readings that scatter more from one to the next than the signal's own past makes likely."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from math import exp, sqrt

import numpy as np

from pipeline.baseline.apart import Spell
from pipeline.baseline.scale import on_scale
from pipeline.baseline.signal import Signal, grains_of, signal_of
from pipeline.case import Case
from pipeline.evidence.liveliness import livelier, scatter_of
from pipeline.finding import Finding
from pipeline.recording import of_recording
from pipeline.wording import day_text, scatter


@dataclass(frozen=True)
class Settings:
    """What is worth a word."""

    times: float = 1.45
    """So many times the usual scatter is worth a visit. Common practice, no source."""


def find(case: Case, settings: Settings) -> Iterator[Finding]:
    """Yield a finding for every stretch in which the readings jump about more than they used to.

    What is usual is learned per signal from the year before (`pipeline.evidence.liveliness`). A thinned
    record, a level and a pressure are not judged: their steps are not the instrument's. Nor is what a
    recording on coarser steps rounds up and down.
    """
    signal = signal_of(case)
    if signal is None:
        return
    for spell in livelier(case, settings.times):
        if not _is_rounded(case, signal, spell):
            yield _finding(case, signal, spell)


def _is_rounded(case: Case, signal: Signal, spell: Spell) -> bool:
    """Whether its steps were coarser when it was told, and half of one explains what it scatters more."""
    grain, since = grains_of(case), slice(spell.begin, spell.crossed + 1)
    before, now = float(np.nanmedian(grain[: spell.begin])), float(grain[spell.crossed])
    if not now > before:
        return False
    level = float(np.median(signal.value[signal.row == spell.crossed]))
    rounding = on_scale(case.tag, 0.5 * sqrt(now**2 - before**2), level)
    # Half a step to either side, of a reading and of the middle of its neighbours: 1 + 1/4 + 1/4.
    most = exp(2.0 * spell.usual) + 1.5 * rounding**2
    return exp(2.0 * float(np.nanmean(signal.roughness[since]))) <= most


def _finding(case: Case, signal: Signal, spell: Spell) -> Finding:
    lasted = signal.stretch(spell.begin, spell.over, case.zone)
    evidence = _evidence(case, spell, lasted[0])
    return of_recording(case, "noisy", "watch", signal.date(spell.crossed), lasted, evidence)


def _evidence(case: Case, spell: Spell, start: datetime) -> str:
    since = day_text(start, case.zone)
    now, before = (scatter(case.tag, scatter_of(spell.usual + more)) for more in (spell.size, 0.0))
    return (
        f"Its readings scatter {exp(spell.size):.1f} times as much from one to the next as they used to "
        f"({now} instead of {before}), since {since}; "
        f"held against {spell.past_days} days of its own past."
    )
