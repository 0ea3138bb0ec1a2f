"""Limits: how long a year of 15-minute readings takes to be held against forty limits, on one core.

``python -m benchmarks.limits`` (under a minute) makes a year of five tags in memory, eight limits on each
of them, every statistic among them at least once, and judges the last week with the eight before it, as
each weekly job does; contact time is reckoned from five more tags. The median of `ROUNDS`; only the judging
is timed.
"""

from collections import Counter
from datetime import timedelta
from pathlib import Path
from statistics import median
from time import process_time
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import polars as pl

from benchmarks.results import Figure, record, today
from pipeline import limits as statistics
from pipeline.case import Case
from pipeline.casebook import case_of
from pipeline.clock import week_named
from pipeline.config.limits import Limit
from pipeline.config.load import Plant
from pipeline.config.plant import PlantFile
from pipeline.config.tags import Tag
from pipeline.facts import SPANS
from pipeline.judge import assess_all
from pipeline.parts import parts
from pipeline.table import CALIBRATIONS

COMMAND = "python -m benchmarks.limits"
ROUNDS = 3
TAGS, LIMITS = 5, 40
ZONE = ZoneInfo("America/Denver")
WEEK = week_named("2026-W46", ZONE)
DAYS = 365
GIVEN: dict[str, Any] = {
    "allow": 5.0,
    "percentile": 95.0,
    "week_starts": "sunday",
    "second_tag": "T0",
    "low": 0.01,
}


SEGMENT = {"name": "clearwell", "gallons_per_foot": 20_000, "baffling_factor": 0.3, "source": "state"}
MEASURED = {
    "flow": ("gpm", 500.0),
    "residual": ("mg/L", 0.8),
    "ph": ("pH", 7.3),
    "temperature": ("degC", 12.0),
    "level": ("ft", 9.0),
}
"""What tells of the segment: unit and usual value."""


def case(name: str, seed: int, unit: str = "NTU", usual: float = 1.0, moves: float = 1.0) -> Case:
    """Make a year of a wandering signal, with spells beyond 1.3 and readings missing."""
    random = np.random.default_rng(seed)
    count = DAYS * 96
    steps = random.normal(0, 0.1, count)
    value = np.empty(count)
    level = 0.0
    for k, step in enumerate(steps.tolist()):
        level = 0.95 * level + step
        value[k] = 1.0 + level
    first = int((WEEK.end - timedelta(days=DAYS)).timestamp()) * 1_000_000
    time = pl.Series("time", first + np.arange(count) * 900_000_000).cast(pl.Datetime("us", "UTC"))
    value = usual * (1.0 + moves * (value - 1.0))
    samples = pl.DataFrame({"time": time, "value": value, "good": random.random(count) > 0.01})
    whole = pl.DataFrame({"start": [time[0]], "end": [WEEK.end]}, schema=SPANS)
    none = pl.DataFrame(schema=SPANS)
    tag = Tag(row=1, tag=name, area="a", measures="turbidity", unit=unit, step_s=900)
    grabs = pl.DataFrame(schema={"time": samples.schema["time"], "value": pl.Float64()})
    services = pl.DataFrame(schema=CALIBRATIONS)
    return case_of(tag, None, ZONE, WEEK.end, samples, whole, none, grabs, services)


def plant(tags: dict[str, Tag]) -> Plant:
    """Forty limits, statistic after statistic, tag after tag."""
    names = sorted(parts(statistics))
    rows = {}
    for k in range(LIMITS):
        statistic = names[k % len(names)]
        needs = getattr(parts(statistics)[statistic], "NEEDS", ())
        cells = {"high": 1.3} | {name: GIVEN[name] for name in needs}
        cells = {name: value for name, value in cells.items() if name != "high" or "low" not in needs}
        rows[f"L{k}"] = Limit(row=k, limit_id=f"L{k}", tag=f"T{k % TAGS}", statistic=statistic, **cells)
    area = {"id": "a", "name": "A", "plant": "water"}
    segment = {**SEGMENT, **{name: name for name in MEASURED}}
    content = {"name": "P", "time_zone": ZONE.key, "area": [area], "disinfection_segment": [segment]}
    file = PlantFile.model_validate(content)
    return Plant(Path(), file, tags, {}, rows)


def main() -> None:
    """Measure and record."""
    cases = {f"T{k}": case(f"T{k}", k) for k in range(TAGS)}
    for seed, (name, (unit, usual)) in enumerate(MEASURED.items(), start=TAGS):
        cases[name] = case(name, seed, unit, usual, 0.05)
    made = plant({name: one.tag for name, one in cases.items()})
    seconds = []
    for _ in range(ROUNDS):
        start = process_time()
        results = assess_all(made, cases, WEEK)
        seconds.append(process_time() - start)
        assert len(results) == LIMITS
        print(f"{seconds[-1]:.2f} s", Counter(one.status for one in results))
    what = f"a year of 15-minute readings against {LIMITS} limits, with the margins of eight weeks, one core"
    record(
        [
            Figure(
                "limits-year-40",
                what,
                round(median(seconds), 2),
                "s",
                "lower",
                5,
                5,
                ROUNDS,
                COMMAND,
                today(),
            )
        ]
    )


if __name__ == "__main__":
    main()
