"""Pegged: readings that stand at an end of the span, or pile up at one value as if cut off."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta

import numpy as np

from pipeline.advice import check_first
from pipeline.baseline.apart import Bar, Spell, spells
from pipeline.baseline.ceilings import Pile, pile
from pipeline.baseline.ends import Stand, stands
from pipeline.baseline.signal import Signal, grains_of, signal_of
from pipeline.case import Case
from pipeline.evidence.thresholds import threshold
from pipeline.finding import Finding
from pipeline.recording import comes_back, of_recording
from pipeline.wording import number, span


@dataclass(frozen=True)
class Settings:
    """What is more than a touch."""

    fewest_minutes: float = 60.0
    """Shortest stand at an end of the span that is worth a word [min]. Common practice, no source."""

    fewest_readings: int = 4
    """It must also hold so many readings."""

    apart_days: float = 14.0
    """Stands less than this apart are one finding [d]."""

    returns_days: float = 2.0
    """Stands less than this apart come back day after day, and are over when none has come for as long, or
    somebody was there; but where there may be nothing to measure each is over with itself [d]. Common
    practice, no source."""

    fewest_pairs: float = 8.0
    """So often in a week must two neighbours both show the same highest (or lowest) value."""


def find(case: Case, settings: Settings) -> Iterator[Finding]:
    """Yield a finding for every spell at an end of the span, then for every ceiling or floor inside it.

    A floor at zero, where the span begins there, is no cut: there may be nothing to measure.

    A signal that rests at an end by habit, as a flow at zero does, is held against its own past.
    """
    if case.tag.is_state:
        return
    fewest = max(settings.fewest_readings, int(settings.fewest_minutes * 60 / case.pace.total_seconds()))
    found = stands(case, fewest)
    for group in _grouped(found, settings.apart_days):
        yield _at_end(case, settings, group)
    signal = signal_of(case)
    if signal is not None:
        for sign in (1.0, -1.0):
            yield from _cut_off(case, settings, signal, sign)


def _grouped(found: list[Stand], apart_days: float) -> Iterator[list[Stand]]:
    group: list[Stand] = []
    for stand in found:
        if group and stand.begin - group[-1].end >= timedelta(days=apart_days):
            yield group
            group = []
        group.append(stand)
    if group:
        yield group


def _at_end(case: Case, settings: Settings, group: list[Stand]) -> Finding:
    lasts, stretches = group[-1].lasts, [(stand.begin, stand.end) for stand in group]
    newest, within = case.regular["time"][-1], timedelta(days=settings.returns_days)
    goes_on = not group[-1].is_at_nothing and comes_back(case, stretches, newest, within)
    stood = sum((stand.end - stand.begin for stand in group), timedelta())
    end = number(case.tag, group[0].end_of_span)
    return Finding(
        tag=case.tag.tag,
        instrument=case.device,
        kind="pegged",
        severity="act" if lasts else "watch",
        crossed=group[0].told.astimezone(case.zone).date(),
        start=group[0].begin,
        end=None if lasts or goes_on else group[-1].end,
        reference="instrument's span",
        evidence=f"Stood at the {group[0].side} end of its span, {end}, for {span(stood)}"
        + (f" in {len(group)} stretches." if len(group) > 1 else "."),
        check_first=check_first("pegged", case.tag.measures),
        unit=case.tag.unit,
    )


def _cut_off(case: Case, settings: Settings, signal: Signal, sign: float) -> Iterator[Finding]:
    piled = pile(signal, grains_of(case), sign, settings.fewest_pairs)
    if piled is None:
        return
    # A signal that rests there anyway must do so many times oftener than it used to.
    bar = Bar(
        threshold("pegged"), float(np.log1p(settings.fewest_pairs)), np.inf, windows=(1, 2), calm_window=0
    )
    for spell in spells(signal.day, np.log1p(piled.pairs), bar):
        if sign < 0 and _is_nothing(case, float(piled.extreme[spell.crossed])):
            continue
        yield _finding(case, signal, piled, spell, "highest" if sign > 0 else "lowest")


def _is_nothing(case: Case, value: float) -> bool:
    """Whether a value is the zero at which the span begins: water without oxygen reads so, uncut."""
    return case.tag.low == 0.0 and value <= 1.0001 * (case.tag.resolution or 0.0)


def _finding(case: Case, signal: Signal, piled: Pile, spell: Spell, word: str) -> Finding:
    value, pairs = float(piled.extreme[spell.crossed]), float(piled.pairs[spell.crossed])
    return of_recording(
        case,
        kind="pegged",
        severity="watch",
        crossed=signal.date(spell.crossed),
        lasted=signal.stretch(piled.first_day(spell.begin), spell.over, case.zone),
        evidence=(
            f"Its {word} reading, {number(case.tag, value)}, comes again and again as if cut off there: in "
            f"seven days it stood twice in a row {pairs:.0f} times more often than the values beside it; "
            f"before, {np.expm1(spell.usual):.0f} times."
        ),
    )
