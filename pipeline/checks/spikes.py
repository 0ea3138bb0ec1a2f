"""Spikes: single readings far beside both their neighbours, more of them than the signal is used to."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.baseline.apart import Bar, Spell, spells
from pipeline.baseline.leaps import Leaps, leaps
from pipeline.baseline.signal import Signal, fewest_of, signal_of, steps_of
from pipeline.case import Case
from pipeline.evidence.thresholds import threshold
from pipeline.finding import Finding
from pipeline.recording import of_recording
from pipeline.wording import scatter

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
WEEK_US = 7 * 86_400_000_000


BURSTS = ("rain",)
"""What comes in bursts by nature: a single high reading is the weather's. Common practice, no source."""


@dataclass(frozen=True)
class Settings:
    """How many are worth a word, and how many a visit."""

    note_a_week: int = 3
    """So many in seven days are for the record. Common practice, no source."""

    visit_a_week: int = 7
    """So many in seven days are for the calibration list: one a day. Common practice, no source."""


def find(case: Case, settings: Settings) -> Iterator[Finding]:
    """Yield a finding for every spell of spikes.

    A spike stands beside both its neighbours by far more than the week before lets expect
    (`pipeline.baseline.leaps`), and by some steps of its display: on a coarse one calm water flickers
    between two values, whatever resolution tags.csv names. Signals that always spike, as where a pump
    starts, are held against their own year. What leaps while somebody is at the instrument is theirs,
    and what leaps as rain does (`BURSTS`) is the weather's.
    """
    signal = None if case.tag.measures in BURSTS else signal_of(case)
    if signal is None:
        return
    resolution, step = case.tag.resolution or 0.0, steps_of(case, signal)
    found = leaps(signal, resolution, case.tag.is_log_scaled, threshold("spikes"), step)
    leapt = signal.time_us[found.at]
    found = found.part(~case.at_service(leapt, leapt))
    count = np.bincount(found.told, minlength=signal.days).astype(np.float64)
    count[signal.readings < fewest_of(case)] = np.nan
    least = settings.note_a_week / 7.0
    bar = Bar(threshold("spike_days"), least, np.inf, windows=(7, 14), calm_window=0, newest_days=0)
    for spell in spells(signal.day, count, bar, case.serviced_on()):
        yield _finding(case, settings, signal, found, spell)


def _finding(case: Case, settings: Settings, signal: Signal, found: Leaps, spell: Spell) -> Finding:
    until = signal.days if spell.end is None else spell.end
    here = np.flatnonzero((found.told >= spell.begin) & (found.told < until))
    time = signal.time_us[found.at[here]]
    most = int((np.searchsorted(time, time + WEEK_US) - np.arange(len(time))).max())
    listed = _listed(time, found.told[here], settings.visit_a_week)
    last = None if spell.over is None else signal.instant(found.at[here[-1]]) + case.pace
    return of_recording(
        case,
        kind="spikes",
        severity="note" if listed is None else "watch",
        crossed=signal.date(spell.crossed),
        lasted=(signal.instant(found.at[here[0]]), last),
        evidence=_evidence(case, found.height[here], found.times[here], most),
        listed=signal.date(listed) if listed is not None and listed > spell.crossed else None,
    )


def _listed(time: Ints, told: Ints, fewest: int) -> int | None:
    """Row of the first day on which so many were known to lie within seven days; None where never."""
    dense = np.flatnonzero(time[fewest - 1 :] - time[: max(len(time) - fewest + 1, 0)] < WEEK_US)
    return int(told[dense[0] + fewest - 1]) if dense.size else None


def _evidence(case: Case, height: Floats, times: Floats, most: int) -> str:
    up = int((height > 0).sum())
    sides = "up" if up == len(height) else "down" if up == 0 else f"{up} up and {len(height) - up} down"
    typical = scatter(case.tag, float(np.median(np.abs(height))))
    return (
        f"{len(height)} single readings leapt away from both their neighbours and back ({sides}), half of "
        f"them by {typical} or more, {np.median(times):.0f} times what its readings usually do; up to {most} "
        "in seven days."
    )
