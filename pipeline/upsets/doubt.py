"""Doubt: was it the water or the instrument, as far as the rest of the record can tell."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

import polars as pl

from pipeline.case import Case
from pipeline.finding import Finding
from pipeline.upsets.grid import SLOT
from pipeline.upsets.group import Upset
from pipeline.upsets.movers import Order
from pipeline.upsets.path import Path
from pipeline.upsets.switches import Switch

Verdict = Literal["water", "instrument", "not told"]

MOVES_WITH: dict[str, tuple[str, ...]] = {
    "chlorine": ("chlorine", "orp", "feed"),
    "orp": ("orp", "chlorine", "feed"),
    "ph": ("ph", "conductivity", "feed"),
    "conductivity": ("conductivity", "ph", "feed"),
    "turbidity": ("turbidity", "uv_transmittance", "uv_intensity", "feed"),
    "uv_transmittance": ("uv_transmittance", "uv_intensity", "turbidity"),
    "temperature": ("temperature",),
    "dissolved_oxygen": ("dissolved_oxygen", "orp"),
}
"""What else moves when the water itself changes in a property: the same matter, and the feed that makes it.
A quiet flow says nothing of the chlorine in it; a level or a pressure may well change alone. Common practice,
no source."""

FEWEST_QUIET = 2
"""Of those that must have been recorded and kept quiet before a tag is said to have moved alone."""

SPOILS = ("frozen", "pegged", "out_of_range", "copied")
"""Kinds of finding after which what is shown is not the water; an error may be small beside what happened."""

OF_THE_UPSET = ("spikes", "noisy", "damped", "rescaled", "coarser", "clock_shift")
"""Kinds that rest on the tag's own record: begun in the upset they are the upset, seen by another check."""
STANDS_STILL = ("flow", "feed")
"""What reads nothing where nothing flows: at the foot of its span it is no failing of the instrument."""

LEAST_COVER = 0.75


@dataclass(frozen=True)
class Doubt:
    """What the record says of water and instrument.

    Parameters
    ----------
    verdict : {"water", "instrument", "not told"}
    reasons : tuple of str
        Each a sentence without its full stop.
    findings : tuple of Finding
        On tags that moved, in the window.
    is_by_grab : bool
        Whether a grab taken meanwhile decided.
    """

    verdict: Verdict
    reasons: tuple[str, ...]
    findings: tuple[Finding, ...] = ()
    is_by_grab: bool = False


def doubt(
    upset: Upset,
    order: Order,
    switches: Sequence[Switch],
    findings: Collection[Finding],
    cases: Mapping[str, Case],
    path: Path,
) -> Doubt:
    """Weigh whether an upset was of the water or of an instrument.

    Parameters
    ----------
    cases : mapping of str to Case
        Every tag of the flow path, over the window.
    """
    moved = [mover.tag for mover in order.movers] or upset.tags
    on_them = tuple(
        one
        for one in findings
        if one.tag in moved
        and one.casts_doubt
        and one.overlaps(upset.start, upset.end)
        and not _is_of(upset, one, cases.get(one.tag))
    )
    reasons = [f"{one.tag} is itself in doubt ({one.finding_id})" for one in on_them]
    if set(moved) <= {one.tag for one in on_them if one.kind in SPOILS}:
        return Doubt("instrument", tuple(reasons), on_them)
    devices = {cases[tag].device for tag in moved if tag in cases}
    if len(devices) > 1 or any(one.is_rare for one in switches):
        others = [tag for tag in moved if tag not in {one.tag for one in on_them}]
        seen = (
            "instruments that share nothing saw it"
            if len(devices) > 1
            else "a switch out of the ordinary goes with it"
        )
        return Doubt("water" if others else "not told", (seen, *reasons), on_them)
    witnesses = {name: case for name, case in cases.items() if name in order.watched or name in moved}
    return _alone(upset, moved[0], tuple(reasons), on_them, witnesses, path)


def _is_of(upset: Upset, one: Finding, case: Case | None) -> bool:
    """Whether a finding says no more than that its tag went where it did not use to go."""
    rests_on_itself = one.kind in OF_THE_UPSET or one.reference == "own history"
    stopped = one.kind == "pegged" and case is not None and _stood_still(case, upset)
    return (rests_on_itself or stopped) and one.start >= upset.start - SLOT


def _stood_still(case: Case, upset: Upset) -> bool:
    """Whether a flow stood at nothing, and not at the top of its span: it stopped, or its meter lost it."""
    if case.tag.measures not in STANDS_STILL or case.tag.low != 0.0 or case.tag.high is None:
        return False
    rows = case.readings.filter(pl.col("good") & pl.col("time").is_between(upset.start, upset.end))
    lowest, highest = rows["value"].min(), rows["value"].max()
    return (
        isinstance(lowest, float)
        and isinstance(highest, float)
        and lowest <= 0.01 * case.tag.high
        and highest < 0.99 * case.tag.high
    )


def _alone(
    upset: Upset,
    tag: str,
    reasons: tuple[str, ...],
    findings: tuple[Finding, ...],
    cases: Mapping[str, Case],
    path: Path,
) -> Doubt:
    """One instrument moved and nothing else: ask the lab, its twin, its neighbours on the path."""
    own = cases[tag]
    lab = _lab(own, upset)
    if lab is not None:
        agrees, sentence = lab
        return Doubt("water" if agrees else "instrument", (sentence, *reasons), findings, is_by_grab=True)
    twin = cases.get(own.tag.twin)
    if twin is not None and _covered(twin, upset):
        return Doubt("instrument", (f"its twin {twin.tag.tag} kept quiet", *reasons), findings)
    quiet = [name for name, case in cases.items() if _is_neighbour(own, case, path) and _covered(case, upset)]
    coupled = [name for name in quiet if cases[name].tag.measures in MOVES_WITH.get(own.tag.measures, ())]
    if len(coupled) >= FEWEST_QUIET:
        others = ", ".join(coupled)
        told = f"{tag} moved alone: what moves with it there, up- and downstream kept quiet ({others})"
        return Doubt("instrument", (told, *reasons), findings)
    return Doubt("not told", (f"{tag} moved alone, and too little else would show it", *reasons), findings)


def _lab(case: Case, upset: Upset) -> tuple[bool, str] | None:
    """Whether a grab taken meanwhile agrees with the reading; None without one or without a tolerance."""
    grabs = case.samples.filter(~pl.col("below") & pl.col("time").is_between(upset.start, upset.end))
    for time, grab in grabs.select("time", "value").iter_rows():
        shown = _shown(case, time)
        allowed = case.tolerance_at(grab)
        if shown is None or allowed is None:
            continue
        agrees = abs(shown - grab) <= 2 * allowed
        word = "agrees with" if agrees else "contradicts"
        return (
            agrees,
            f"a grab taken meanwhile {word} {case.tag.tag}: {grab:g} against {shown:g} {case.tag.unit}",
        )
    return None


def _shown(case: Case, time: datetime) -> float | None:
    near = timedelta(minutes=30)
    rows = case.readings.filter(pl.col("good") & pl.col("time").is_between(time - near, time + near))
    value = rows["value"].median()
    return float(value) if isinstance(value, float) else None


def _is_neighbour(own: Case, other: Case, path: Path) -> bool:
    """Another instrument in the same area or the one before or after."""
    if other.device == own.device or other.tag.is_state:
        return False
    here, there = own.tag.area, other.tag.area
    order = [area for area in path.order if path.plant_of[area] == path.plant_of[here]]
    return abs(order.index(here) - order.index(there)) <= 1 if there in order else False


def _covered(case: Case, upset: Upset) -> bool:
    """Whether readings that count stand for most of the upset."""
    rows = case.readings.filter("usable" if case.tag.valid_when == "" else "good")
    count = rows.filter(pl.col("time").is_between(upset.start, upset.end)).height
    expected = max((upset.end - upset.start) / case.step, 1.0)
    return case.tag.recording == "on change" or count / expected >= LEAST_COVER
