"""Step: an error that came with a service and stayed, as a wrong calibration leaves it."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial

import numpy as np

from pipeline.advice import check_first
from pipeline.baseline.scale import amount
from pipeline.case import RESTARTS, Case
from pipeline.clock import midnight
from pipeline.epoch import date_of, day_number
from pipeline.evidence.errors import Errors, against_grabs, against_history
from pipeline.evidence.jumps import Jump, jumps
from pipeline.evidence.level import has_tolerance, level_since, tolerance_on
from pipeline.evidence.thresholds import threshold
from pipeline.evidence.twin import against_twin
from pipeline.finding import Finding, Severity
from pipeline.wording import AGAINST, day_text, difference

_NEAR_DAYS, _FEWEST = 56.0, 3


@dataclass(frozen=True)
class Settings:
    """What a step is judged by."""

    grabs: int = 2
    """Grabs looked at on each side of a service."""

    days: int = 3
    """Days looked at on each side of it beside a twin, or against the own past."""

    own_history: tuple[str, ...] = ("ph", "chlorine", "turbidity", "conductivity", "orp", "uv_transmittance")
    """What its own past can say anything of; the others follow the demand, the weather or a controller."""

    own_days: float = 28.0
    """How long a step that rests on the own past asks for a grab: by then the level is the norm [d]."""


def find(case: Case, settings: Settings) -> Iterator[Finding]:
    """Yield a finding for every service after which the reading is past its tolerance as it was not before.

    The best reference decides: lab grabs, else the twin, else the instrument's own past. What is on the
    instrument's side of a jump at a service is certain; that it is the later side, only a reference tells.
    """
    services = sorted(set(case.serviced_on(RESTARTS)))
    if case.tag.is_state or case.instrument is None or not services:
        return
    if not has_tolerance(case):
        return
    first: dict[float, tuple[Errors, Jump]] = {}
    for errors, jump in sorted(_every(case, settings, services), key=lambda one: one[1].crossed):
        # The first that had enough tells of it: what came later must not change what was said.
        first.setdefault(jump.service, (errors, jump))
    for service in sorted(first):
        errors, jump = first[service]
        yield _finding(case, errors, jump, _end(case, settings, errors, jump))


def _every(case: Case, settings: Settings, services: list[float]) -> list[tuple[Errors, Jump]]:
    """Return the jumps against each reference; the own past where there is no other before the service."""
    sure, tolerance = threshold("step_sure"), partial(tolerance_on, case)
    grabs, twin = against_grabs(case), against_twin(case)
    found = [(grabs, jump) for jump in jumps(grabs, services, tolerance, settings.grabs, sure)]
    found += [(twin, jump) for jump in jumps(twin, services, tolerance, settings.days, sure)]
    alone = [s for s in services if not _is_told(grabs, s) and not _is_told(twin, s)]
    if not alone or case.tag.measures not in settings.own_history:
        return found
    own = against_history(case)
    by_itself = jumps(own, services, tolerance, settings.days, sure)
    return found + [(own, jump) for jump in by_itself if jump.service in alone]


def _is_told(errors: Errors, service: float) -> bool:
    """Whether there was such a reference in the weeks before a service."""
    near = (errors.day < service) & (errors.day >= service - _NEAR_DAYS) & np.isfinite(errors.error)
    return int(near.sum()) >= _FEWEST


def _end(case: Case, settings: Settings, errors: Errors, jump: Jump) -> float | None:
    """Day on which it is over: with the next service, or where nothing but the own past speaks for it."""
    ends = [] if jump.until is None else [jump.until]
    fades = jump.crossed + settings.own_days
    if errors.reference == "own history" and fades < day_number(case.as_of.astimezone(case.zone).date()):
        ends.append(fades)
    return min(ends, default=None)


def _finding(case: Case, errors: Errors, jump: Jump, end: float | None) -> Finding:
    tag, level = case.tag, level_since(case, jump.service, jump.crossed)
    half = 1.96 * jump.sd
    estimate, one, other = (amount(tag, e, level) for e in (jump.after, jump.after - half, jump.after + half))
    severity: Severity = "act" if errors.reference == "lab grab" else "watch"
    return Finding(
        tag=tag.tag,
        instrument=case.device,
        kind="step",
        severity=severity,
        crossed=date_of(jump.crossed),
        start=midnight(date_of(jump.service), case.zone),
        end=None if end is None else midnight(date_of(end), case.zone),
        reference=errors.reference,
        evidence=_evidence(case, errors.reference, jump, estimate, amount(tag, jump.before, level)),
        check_first=check_first("step", tag.measures),
        unit=tag.unit,
        estimate=estimate,
        ci_low=min(one, other),
        ci_high=max(one, other),
        tolerance=case.tolerance_at(level) or 0.0,
        tolerance_source=case.instrument.tolerance_source if case.instrument else "",
    )


_CANNOT_TELL = {
    "lab grab": "",
    "twin instrument": " A grab tells whether the service or the twin is right.",
    "own history": " One sensor alone cannot tell this from a change of the water that day: take a grab.",
}


def _evidence(case: Case, reference: str, jump: Jump, after: float, before: float) -> str:
    tag, on = case.tag, day_text(midnight(date_of(jump.service), case.zone), case.zone)
    direction = "above" if after > 0 else "below"
    what = "grabs" if reference == "lab grab" else "days"
    return (
        f"Since the service of {on} it reads {difference(tag, abs(after))} {direction} {AGAINST[reference]} "
        f"({jump.count} {what}); before it the difference was {difference(tag, before)}."
        f"{_CANNOT_TELL[reference]}"
    )
