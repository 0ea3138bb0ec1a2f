"""Plan: which sensors are simulated, under which name they are scored."""

from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from benchmarks.detection_work import Task
from benchmarks.families import MEASURES, Measure
from benchmarks.families_fifth_plan import REGION_EVERY, region
from benchmarks.families_fourth import FOURTH_MEASURES, ROLES, TRAINS
from benchmarks.families_sensors import Order
from benchmarks.families_third import THIRD_MEASURES
from benchmarks.faults import FOUND_BY, RECORD_KINDS, SIZES
from pipeline import checks
from pipeline.parts import parts

SEEDS = {"A": 20_000, "B": 90_000, "C": 130_000, "D": 170_000, "E": 230_000}
FULL_FACTOR = 4
MIX_TRAIN, MIX_TRAINS = 8, 60
ROSTER_EVERY = 5
"""Of the seeds of mixed trains, every so many make a plant of forty: as many sensors in all."""

FAULTY_SHARE = 0.3
MIX_REFERENCES = (("weekly", 0.4), ("daily", 0.1), ("twin", 0.15), ("steps", 0.1), ("none", 0.25))
MIX_KINDS = (*("drift",) * 6, *("fouling",) * 4, *("step",) * 2, "stuck", *RECORD_KINDS)
WEEKS_TO_TOLERANCE = (2.0, 10.0)
"""How long a drift of the mix takes to the tolerance, evenly on a log scale: faster is a failure, slower
stays inside until the next service."""

GRID: tuple[tuple[str, str, str, float, int], ...] = (
    ("drift-weekly-slow", "weekly", "drift", 1.0, 24),
    ("drift-weekly", "weekly", "drift", 2.5, 16),
    ("drift-daily-slow", "daily", "drift", 1.0, 12),
    ("drift-daily", "daily", "drift", 2.5, 12),
    ("drift-own", "none", "drift", 2.5, 24),
    ("drift-own-fast", "none", "drift", 5.0, 12),
    ("drift-twin-slow", "twin", "drift", 1.0, 16),
    ("drift-steps", "steps", "drift", 2.5, 8),
    ("fouling-weekly", "weekly", "fouling", 2.5, 12),
    ("fouling-own", "none", "fouling", 2.5, 12),
    ("step-weekly", "weekly", "step", 2.0, 12),
    ("step-own", "none", "step", 2.0, 12),
    ("shift-own", "none", "shift", 5.0, 12),
    ("shift-weekly", "weekly", "shift", 5.0, 8),
    ("twin", "twin", "twin", 2.5, 8),
)
"""Name, reference, kind of fault, size, sensors of each measure."""

STRIKES = {"stuck": 2, "gap": 3, "out_of_range": 3}
SERVICED = ("drift-steps", "step-weekly", "step-own")


def tasks(family: str, full: bool, broken: str = "", only: str = "") -> list[Task]:
    """Return all trains of a measurement."""
    times = FULL_FACTOR if full else 1
    orders = [list(_row(*row[:4])) for row in _grid() for _ in range(row[4] * times)]
    seeds = np.random.SeedSequence(SEEDS[family]).generate_state(len(orders) + MIX_TRAINS * times)
    grid = [Task(family, int(seed), tuple(order), broken) for seed, order in zip(seeds, orders, strict=False)]
    mixed = [
        Task(family, seed, tuple(order), broken)
        for seed, order in _mixes(family, seeds[len(orders) :].tolist())
    ]
    return [task for task in [*mixed, *grid] if task.orders[0].group.startswith(only)]


def _mixes(family: str, seeds: list[int]) -> Iterator[tuple[int, Iterator[Order]]]:
    """Seed and sensors of every mixed train."""
    if family == "D":
        for seed in seeds[::ROSTER_EVERY]:
            yield from ((seed + part, roster(seed + part, roles)) for part, roles in enumerate(TRAINS))
        return
    if family == "E":
        for seed in seeds[::REGION_EVERY]:
            yield from ((seed + part, orders) for part, orders in enumerate(region(seed)))
        return
    measures = THIRD_MEASURES if family == "C" else MEASURES
    yield from ((seed, mix(seed, measures)) for seed in seeds)


def _grid() -> Iterator[tuple[str, str, str, float, int]]:
    """Rows of the grid, without faults that no check looks for."""
    there = set(parts(checks))
    yield from (row for row in GRID if row[2] == "shift" or there & set(FOUND_BY[row[2]]))
    for kind in RECORD_KINDS:
        if there & set(FOUND_BY[kind]):
            yield from ((f"{kind}-{size:g}", "none", kind, size, 4) for size in SIZES[kind])
    yield "stuck-again", "none", "stuck", 12.0, 3


def _row(group: str, reference: str, kind: str, size: float) -> Iterator[Order]:
    strikes = 7 if group == "stuck-again" else STRIKES.get(kind, 1)
    is_serviced = group in SERVICED or kind in RECORD_KINDS
    for measure in MEASURES:
        if kind == "copied":
            # What is copied must be recorded, with the same decimals.
            yield Order("beside", measure, "none")
        yield Order(group, measure, reference, kind, size, is_serviced, strikes)


def mix(seed: int, measures: Mapping[str, Measure] = MEASURES) -> Iterator[Order]:
    """Eight sensors of a plant as it is: most of them healthy, all serviced."""
    random = np.random.default_rng([seed, 8])
    names, shares = zip(*MIX_REFERENCES, strict=True)
    for _ in range(MIX_TRAIN):
        kind = str(random.choice(MIX_KINDS)) if random.random() < FAULTY_SHARE else ""
        size = float(random.choice(SIZES[kind])) if kind else 0.0
        measure = str(random.choice(list(measures)))
        if kind in ("drift", "fouling"):
            size = _pace(random, measures[measure])
        yield Order("mix", measure, str(random.choice(names, p=shares)), kind, size)


def roster(seed: int, roles: Sequence[str]) -> Iterator[Order]:
    """Sensors at given places of a plant, as often faulty as those of `mix`; a copy is of its like."""
    random, before = np.random.default_rng([seed, 40]), ""
    for name in roles:
        kind = str(random.choice(MIX_KINDS)) if random.random() < FAULTY_SHARE else ""
        kind = "stuck" if kind == "copied" and before != name else kind
        size = float(random.choice(SIZES[kind])) if kind else 0.0
        if kind in ("drift", "fouling"):
            size = _pace(random, FOURTH_MEASURES[name])
        yield Order("mix", name, str(random.choice(ROLES[name].references)), kind, size)
        before = name


def _pace(random: np.random.Generator, measure: Measure) -> float:
    """Size of a drift that is so many weeks from nothing to the tolerance [slow rates]."""
    weeks = np.exp(random.uniform(*np.log(WEEKS_TO_TOLERANCE)))
    return float(measure.tolerance / weeks / measure.slow_rate)
