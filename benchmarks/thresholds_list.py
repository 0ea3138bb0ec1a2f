"""The list's bars: how sure a drift or a step must be to ask for somebody, on plants of family A as they are.

Most sensors of these plants are healthy, all drift a little and are serviced, sources and set-points change.
For every reference the bar is the lowest at which 92 % of the entries are right by the true error: a little
more than the nine in ten asked of the list, since no town's water is quite that of the family.
"""

from collections import Counter
from collections.abc import Iterator
from typing import Any
from unittest.mock import patch

from benchmarks.detection_plan import mix
from benchmarks.detection_work import said
from benchmarks.families import STEPS_A_DAY
from benchmarks.families_cases import case, day_end
from benchmarks.families_sensors import HISTORY_DAYS, SCORED_DAYS, Sensor
from benchmarks.families_train import train
from benchmarks.scoring import Record, Trouble, is_true
from benchmarks.thresholds_line import FAMILY, SEED, mapped, noted
from pipeline.case import Case
from pipeline.checks import drift, step
from pipeline.evidence.thresholds import threshold

TRAINS = 240
RIGHT, FEWEST = 0.92, 8
CHANCES = (0.75, 0.80, 0.83, 0.85, 0.87, 0.90, 0.93, 0.95, 0.97, 0.99)
NAMES = (
    "list_by_weekly_grab", "list_by_daily_grab", "list_by_twin", "list_by_own", "list_by_log", "step_sure",
)  # fmt: skip
BY_REFERENCE = {
    "twin instrument": "list_by_twin",
    "own history": "list_by_own",
    "as found at services": "list_by_log",
}


def judged(seed: int) -> list[tuple[str, float, bool]]:
    """Return for every entry on a train's lists its bar's name, the bar's height and whether it was right."""
    orders = list(mix(seed))
    made = train(FAMILY, seed + SEED, orders)
    found = []
    for sensor in made.sensors:
        known, record = case(made, sensor, day_end(HISTORY_DAYS + SCORED_DAYS)), _record(sensor)
        for chance in CHANCES:
            found += [(name, chance, right) for name, right in _entries(known, record, sensor, chance)]
    return found


def _record(sensor: Sensor) -> Record:
    troubles = tuple(
        Trouble(f.kind, f.size, f.begin / STEPS_A_DAY, f.end / STEPS_A_DAY) for f in sensor.faults
    )
    services = tuple(row / STEPS_A_DAY for row, *_ in sensor.services)
    order = sensor.order
    return Record(
        order.group, order.measure, order.reference, HISTORY_DAYS, sensor.error, troubles, services,
        sensor.service_days, (),
    )  # fmt: skip


def _entries(known: Case, record: Record, sensor: Sensor, chance: float) -> Iterator[tuple[str, bool]]:
    def height(name: str) -> float:
        return chance if name in NAMES else threshold(name)

    with patch.object(drift, "threshold", height), patch.object(step, "threshold", height):
        findings = [*drift.find(known, drift.Settings()), *step.find(known, step.Settings())]
    for finding in findings:
        entry = said(finding, sensor.measure).entry
        if entry.is_listed and entry.crossed >= HISTORY_DAYS:
            yield _name(entry.kind, entry.reference, record.reference), is_true(record, entry)


def _name(kind: str, reference: str, kept: str) -> str:
    if kind == "step":
        return "step_sure"
    return BY_REFERENCE.get(reference, "list_by_daily_grab" if kept == "daily" else "list_by_weekly_grab")


def lowest(entries: list[tuple[str, float, bool]], name: str) -> tuple[float, int, float]:
    """Return the lowest bar with enough entries right, how many there were, and the share of right ones."""
    every = Counter(chance for which, chance, _ in entries if which == name)
    right = Counter(chance for which, chance, was in entries if which == name and was)
    for chance in CHANCES:
        if every[chance] >= FEWEST and right[chance] >= RIGHT * every[chance]:
            return chance, every[chance], right[chance] / every[chance]
    last = CHANCES[-1]
    return last, max(every[last], 1), right[last] / max(every[last], 1)


def derived() -> dict[str, dict[str, Any]]:
    """Derive the bars of the list; for each its value and what it rests on."""
    entries: list[tuple[str, float, bool]] = mapped(judged, TRAINS)
    lines = {}
    for name in NAMES:
        chance, n, share = lowest(entries, name)
        what = f"{RIGHT:.0%} of the entries right by the true error; {share:.2f} were"
        lines[name] = noted(name, chance, what, n)
    return lines
