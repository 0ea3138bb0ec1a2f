"""Clock shift: what a signal does every day comes earlier or later than it used to."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta

from pipeline.baseline.apart import Bar, Spell, spells
from pipeline.baseline.rhythm import SLOT_MINUTES, Fit, Rhythm, fit, rhythm
from pipeline.baseline.signal import Signal, signal_of
from pipeline.case import Case
from pipeline.evidence.thresholds import threshold
from pipeline.finding import Finding
from pipeline.recording import of_recording
from pipeline.wording import day_text, span


@dataclass(frozen=True)
class Settings:
    """What is taken for a shifted clock."""

    least_minutes: float = 45.0
    """Smallest shift [min]; the usual ones are an hour of summer time, or a time zone."""

    likeness: float = 0.7
    """The day's course, shifted, must correlate with the usual one at least so well."""

    gain: float = 0.02
    """And so much better than without the shift,"""

    gain_times: float = 3.0
    """with a third of what is missing to 1."""

    apart_minutes: float = 60.0
    """The first and the second half of the stretch must agree on the shift so closely [min]."""

    fewest_days: int = 12
    """Shortest stretch [d]."""

    history_days: int = 250
    """History that must be known [d]: it holds a change to or from summer time, which moves all that
    follows the sun by an hour of the wall clock."""

    wait_days: int = 28
    """How long a suspicion may wait for the course to bear it out [d]."""


def find(case: Case, settings: Settings) -> Iterator[Finding]:
    """Yield a finding for every stretch of days whose course comes early or late."""
    signal = signal_of(case)
    if signal is None or signal.days < settings.history_days:
        return
    course = rhythm(signal)
    least = settings.least_minutes
    bar = Bar(
        threshold("clock_shift"), least, least, settings.history_days, windows=(7, 14, 21), calm_window=0
    )
    for spell in spells(signal.day, course.late_minutes, bar):
        borne_out = _borne_out(course, settings, spell, signal.days)
        if borne_out is not None:
            yield _finding(case, signal, spell, *borne_out)


def _borne_out(course: Rhythm, settings: Settings, spell: Spell, days: int) -> tuple[int, Fit] | None:
    """Return the first day on which the course of the stretch bears the shift out, and how it fits."""
    last = min(spell.crossed + settings.wait_days, days - 1, (spell.end or days) - 1)
    for row in range(max(spell.crossed, spell.begin + settings.fewest_days - 1), last + 1):
        whole = fit(course, spell.begin, row)
        is_like = whole.best >= settings.likeness and whole.best - whole.unmoved >= settings.gain
        if is_like and 1.0 - whole.unmoved >= settings.gain_times * (1.0 - whole.best):
            middle = (spell.begin + row) // 2
            halves = (fit(course, spell.begin, middle), fit(course, middle + 1, row))
            if _agree(settings, spell, (whole, *halves)):
                return row, whole
    return None


def _agree(settings: Settings, spell: Spell, fits: tuple[Fit, ...]) -> bool:
    late = [found.late_slots * SLOT_MINUTES for found in fits]
    sure = all(minutes * spell.size > 0 and abs(minutes) >= settings.least_minutes for minutes in late)
    return sure and max(late) - min(late) <= settings.apart_minutes


def _finding(case: Case, signal: Signal, spell: Spell, crossed: int, found: Fit) -> Finding:
    lasted = signal.stretch(spell.begin, spell.over, case.zone)
    shift = timedelta(minutes=abs(found.late_slots) * SLOT_MINUTES)
    since = day_text(lasted[0], case.zone)
    way = "later" if found.late_slots > 0 else "earlier"
    return of_recording(
        case,
        kind="clock_shift",
        severity="note",
        crossed=signal.date(crossed),
        lasted=lasted,
        evidence=(
            f"What it does every day comes about {span(shift)} {way} since {since}: its "
            f"daily course fits the usual one with that shift (correlation {found.best:.2f}) better than "
            f"without ({found.unmoved:.2f}). The same on other signals points to the recorder's clock."
        ),
    )
