"""Work: one simulated train through every check of the pipeline, and what came of it as records to score."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np

from benchmarks import detection_broken
from benchmarks.families import STEPS_A_DAY, Bools, Measure
from benchmarks.families_cases import case, day_end
from benchmarks.families_sensors import HISTORY_DAYS, SCORED_DAYS, START, ZONE, Order, Sensor, Train
from benchmarks.families_train import train
from benchmarks.faults import Fault
from benchmarks.scoring import Record, Said, Trouble, week_end
from pipeline import checks
from pipeline.finding import Finding
from pipeline.judge import find_all
from pipeline.parts import parts

WATCHED_DAYS = 56.0
JUDGED_AT_56 = ("drift", "fouling")


@dataclass(frozen=True)
class Task:
    """One train to simulate and judge."""

    family: str
    seed: int
    orders: tuple[Order, ...]
    broken: str = ""


RUNNING_SHARE = 0.5
"""A stuck reading counts as a fault to be found where the plant ran for so much of it: while the water
stands still, nothing is judged. An entry on one that ran for less is right all the same."""


def settings() -> dict[str, Any]:
    """Return the default settings of every check."""
    return {kind: check.Settings() for kind, check in parts(checks).items()}


def records(task: Task) -> list[Record]:
    """Simulate a train and judge its sensors."""
    made = train(task.family, task.seed, list(task.orders))
    with detection_broken.applied(task.broken):
        seen = detection_broken.spoilt(made, task.broken)
        return [record(made, seen, number) for number in range(len(made.sensors))]


def record(true: Train, seen: Train, number: int) -> Record:
    """Judge one sensor: `true` is what it was, `seen` what the checks are given."""
    sensor = true.sensors[number]
    known = case(seen, seen.sensors[number], day_end(HISTORY_DAYS + SCORED_DAYS))
    found = find_all({sensor.name: known}, settings())
    order = sensor.order
    troubles = tuple(
        Trouble(f.kind, f.size, f.begin / STEPS_A_DAY, f.end / STEPS_A_DAY, _is_due(f, true.running))
        for f in sensor.faults
    )
    at_56, rate = _at_56(seen, number, sensor, troubles)
    return Record(
        group=order.group, measure=order.measure, reference=order.reference, scored_from=HISTORY_DAYS,
        error=sensor.error, troubles=troubles, services=tuple(s[0] / STEPS_A_DAY for s in sensor.services),
        service_days=sensor.service_days, said=tuple(said(f, sensor.measure) for f in found), at_56=at_56,
        true_rate=rate,
    )  # fmt: skip


def _is_due(fault: Fault, running: Bools) -> bool:
    return fault.kind != "stuck" or bool(running[fault.begin : fault.end].mean() >= RUNNING_SHARE)


def _at_56(
    seen: Train, number: int, sensor: Sensor, troubles: tuple[Trouble, ...]
) -> tuple[Said | None, float]:
    """Return what stood open 56 days after the beginning of an ordered drift, and the drift's true rate."""
    if sensor.order.is_serviced or sensor.order.kind not in JUDGED_AT_56:
        return None, np.nan
    day = int(troubles[0].begin + WATCHED_DAYS)
    known = case(seen, seen.sensors[number], day_end(day))
    found = [
        f for f in find_all({sensor.name: known}, settings()) if f.kind in ("drift", "step") and f.is_open
    ]
    m = sensor.measure
    grown = sensor.error[day - 1] - sensor.error[int(troubles[0].begin)]
    rate = np.sign(grown) * troubles[0].size * m.slow_rate / m.tolerance
    return (said(found[-1], m) if found else None), float(rate)


def day_of(moment: datetime) -> float:
    """Days from the beginning of the record to an instant."""
    return (moment - day_end(0)).total_seconds() / 86400.0


def said(finding: Finding, measure: Measure) -> Said:
    """Reduce a finding to what is scored."""
    crossed = float((finding.crossed - START).days)
    end = None if finding.end is None else day_of(finding.end)
    error, low, high = (
        _error(finding, measure, value) for value in (finding.estimate, finding.ci_low, finding.ci_high)
    )
    return Said(
        kind=finding.kind, severity=finding.severity, reference=finding.reference, crossed=crossed,
        start=(finding.start.astimezone(ZONE).date() - START).days, end=end,
        is_listed=_is_listed(finding, crossed, end), error=error, low=min(low, high), high=max(low, high),
        rate=_rate(finding, measure, error),
        listed_on=np.nan if finding.listed is None else float((finding.listed - START).days),
    )  # fmt: skip


def _is_listed(finding: Finding, crossed: float, end: float | None) -> bool:
    """Whether the list of some week held it; a gap asks for somebody only while it lasts."""
    if finding.kind == "gap":
        return end is None or end > week_end(crossed)
    return finding.severity != "note"


def _error(finding: Finding, measure: Measure, estimate: float | None) -> float:
    """Amount as an error in tolerances; for shares of the reading on the logarithmic scale."""
    if estimate is None or not finding.tolerance:
        return np.nan
    tolerances = estimate / finding.tolerance
    if not measure.is_log:
        return tolerances
    return float(-np.log(max(1.0 - tolerances * measure.tolerance, 1e-9)) / measure.tolerance)


def _rate(finding: Finding, measure: Measure, error: float) -> float:
    if finding.rate_per_week is None or not finding.tolerance:
        return np.nan
    tolerances = finding.rate_per_week / finding.tolerance
    if not measure.is_log:
        return tolerances
    later = np.exp(-error * measure.tolerance) - tolerances * measure.tolerance
    return float((-np.log(max(later, 1e-9))) / measure.tolerance - error)
