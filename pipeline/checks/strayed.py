"""Strayed: an analyser that reads something else for up to half a day and snaps back to where it was."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby
from math import exp

import numpy as np

from pipeline.baseline.scale import on_scale
from pipeline.baseline.signal import Signal, signal_of
from pipeline.baseline.snaps import HELD, Snap, snaps
from pipeline.baseline.stuck import MOST_REPEATS
from pipeline.case import Case
from pipeline.evidence.liveliness import MEASURES, judgeable
from pipeline.evidence.thresholds import threshold
from pipeline.finding import Finding
from pipeline.neighbours.company import SWITCHED, has_moved, is_same_matter, is_switched
from pipeline.recording import of_recording
from pipeline.wording import number, span

ANALYSERS = tuple(measures for measures in MEASURES if measures != "flow")
"""What mixing water can change only slowly. A flow jumps whenever somebody opens a valve."""


@dataclass(frozen=True)
class Settings:
    """How often is worth a visit."""

    often: int = 3
    """So many times within `within_days` are for the calibration list. Common practice, no source."""

    within_days: int = 14
    """Length of that stretch [d]."""


def find(case: Case, settings: Settings) -> Iterator[Finding]:
    """Yield a finding for each day on which readings were known to have strayed and come back.

    The jump back is the proof (`pipeline.baseline.snaps`): water mixes, and comes back slowly. A process
    that is switched does jump; so nothing is said where a pump, valve, flow or feed of the same area jumped
    at that time, nor where a twin or another instrument for the same matter moved too
    (`pipeline.neighbours.company`). It is over when it is known, and for the record.

    A record whose readings mostly repeat the one before may be thinned out, and then jumps by itself; or its
    display is too coarse for calm water. It is judged where it is not calm: where what strayed moves.
    """
    signal = signal_of(case) if case.tag.measures in ANALYSERS else None
    if signal is None:
        return
    grain = 0.0 if case.tag.is_log_scaled else case.tag.resolution or 0.0
    lively = judgeable(signal)
    found = [
        snap
        for snap in snaps(signal, grain, threshold("strayed"))
        if (_matters(case, snap) if lively[snap.told] else _is_seen(case, signal, snap))
        and not _is_explained(case, signal, snap)
    ]
    for told, group in groupby(found, key=lambda snap: snap.told):
        since = told - settings.within_days
        so_far = sum(since < snap.told <= told for snap in found)
        yield _finding(case, settings, signal, list(group), so_far)


def _matters(case: Case, snap: Snap, rounding: float = 0.0) -> bool:
    """Whether the jump is as large as the admissible error; where none is given, any is."""
    level = _amount(case, snap.course)
    tolerance = case.tolerance_at(level)
    least = rounding if tolerance is None else tolerance + rounding
    return abs(snap.height) >= on_scale(case.tag, least, level)


def _is_seen(case: Case, signal: Signal, snap: Snap) -> bool:
    """Whether a record that mostly repeats itself moves while it strays, by more than rounding may add."""
    repeats = float(np.mean(np.diff(signal.value[snap.begin : snap.back]) == 0))
    return repeats <= MOST_REPEATS and _matters(case, snap, case.tag.resolution or 0.0)


def _is_explained(case: Case, signal: Signal, snap: Snap) -> bool:
    """Whether somebody was at it, the process was switched, or another instrument saw the same."""
    begin, back = (int(signal.time_us[at]) for at in (snap.begin, snap.back))
    if case.at_service(begin, back):
        return True
    if any(is_switched(one, begin, back) for one in case.company if one.tag.measures in SWITCHED):
        return True
    moved = _moved(case, signal, snap)
    return any(is_same_matter(case.tag.measures, one.tag.measures) for one in moved)


def _moved(case: Case, signal: Signal, snap: Snap) -> list[Case]:
    """Other analysers of the same area, and its twin wherever it is, that left their course too."""
    begin, back, known = (int(signal.time_us[at]) for at in (snap.begin, snap.back, snap.back + HELD - 1))
    others = {one.tag.tag: one for one in case.company if one.tag.measures not in SWITCHED}
    if case.twin is not None:
        others[case.twin.tag.tag] = case.twin
    return [one for one in others.values() if has_moved(one, begin, back, known)]


def _finding(case: Case, settings: Settings, signal: Signal, here: list[Snap], so_far: int) -> Finding:
    return of_recording(
        case,
        kind="strayed",
        severity="watch" if so_far >= settings.often else "note",
        crossed=signal.date(here[0].told),
        lasted=(signal.instant(here[0].begin), signal.instant(here[-1].back)),
        evidence=_evidence(case, settings, signal, here, so_far),
    )


def _evidence(case: Case, settings: Settings, signal: Signal, here: list[Snap], so_far: int) -> str:
    widest = max(here, key=lambda snap: abs(snap.height))
    values = signal.value[widest.begin : widest.back]
    worst = float(values.min() if widest.height > 0 else values.max())
    lasted = span(signal.instant(widest.back) - signal.instant(widest.begin))
    often = "" if so_far == 1 else f" It was no. {so_far} within {settings.within_days} days."
    return (
        f"Read as {'low' if widest.height > 0 else 'high'} as {number(case.tag, worst)} for {lasted}, then "
        f"was back at {number(case.tag, _amount(case, widest.course))} at once; in {widest.past_days} days "
        f"of its own past it does not jump so far. {_beside(case, signal, widest)}{often}"
    )


def _beside(case: Case, signal: Signal, snap: Snap) -> str:
    """Say what else its area recorded, and what that leaves."""
    moved = ", ".join(one.tag.tag for one in _moved(case, signal, snap))
    if moved:
        return f"{moved} moved with it: what they share (sample line, power, a probe), or the water itself."
    rest = "recorded in its area moved with it" if case.company else "is recorded in its area"
    return (
        f"Nothing else {rest}. Water that mixes comes back slowly: the sample or the analyser, unless dosing "
        "or a valve was at work."
    )


def _amount(case: Case, x: float) -> float:
    return exp(x) if case.tag.is_log_scaled else x
