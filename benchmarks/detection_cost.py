"""Cost: what judging one sensor takes on one core, alone and beside a seasonal decomposition of its record.

Milliseconds are those of one machine on one day; the ratio holds on any. The yardstick is the plain STL
of statsmodels over the newest eight weeks of the same readings, one day its period: what a first attempt at
reading a trend would do.
"""

from collections.abc import Iterator
from statistics import median
from time import process_time

import numpy as np
from statsmodels.tsa.seasonal import STL

from benchmarks.detection_counts import Row, lower
from benchmarks.detection_plan import tasks
from benchmarks.detection_work import settings
from benchmarks.families import STEPS_A_DAY
from benchmarks.families_cases import case, day_end
from benchmarks.families_sensors import HISTORY_DAYS, SCORED_DAYS, Sensor, Train
from benchmarks.families_train import train
from pipeline.judge import find_all

EVERY = 8
"""Of the plan's trains, every so many; of each one sensor, of every measure in turn."""

YARDSTICK_DAYS = 56


def cost(family: str) -> list[Row]:
    """Judge a sample of sensors one after the other, nothing beside them, and return the rows."""
    taken = list(_taken(family))
    gathering, judging, yardstick = zip(*taken, strict=True)
    whole = [a + b for a, b in zip(gathering, judging, strict=True)]
    over = [b / c for b, c in zip(judging, yardstick, strict=True)]
    what = "gathering and judging one sensor's 88 weeks of record, as each weekly job does"
    n, weeks = len(taken), YARDSTICK_DAYS // 7
    return [
        lower("cost", what, 1000 * median(whole), "ms", n, (25.0, 60.0)),
        lower("cost-checks", "of that all checks together", 1000 * median(judging), "ms", n, (40.0, None)),
        lower(
            "cost-checks-over-stl",
            f"all checks over one STL of its newest {weeks} weeks",
            median(over),
            "x",
            n,
        ),
    ]


def _taken(family: str) -> Iterator[tuple[float, float, float]]:
    """Processor time [s] of gathering, of all checks, and of the yardstick, sensor by sensor."""
    for number, task in enumerate(tasks(family, full=False)[::EVERY]):
        made = train(task.family, task.seed, list(task.orders))
        if not number:
            _judged(made, made.sensors[0])  # the first pays for what is loaded once
        sensor = made.sensors[number % len(made.sensors)]
        yield (*_judged(made, sensor), _decomposed(sensor))


def _judged(made: Train, sensor: Sensor) -> tuple[float, float]:
    made.kept.clear()
    started = process_time()
    known = case(made, sensor, day_end(HISTORY_DAYS + SCORED_DAYS))
    gathered = process_time()
    find_all({sensor.name: known}, settings())
    return gathered - started, process_time() - gathered


def _decomposed(sensor: Sensor) -> float:
    newest = sensor.shown[-YARDSTICK_DAYS * STEPS_A_DAY :]
    whole = np.where(np.isfinite(newest), newest, np.nanmedian(newest))
    started = process_time()
    STL(whole, period=STEPS_A_DAY).fit()
    return process_time() - started
