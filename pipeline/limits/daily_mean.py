"""Daily mean: the mean of each local day, every reading weighted by how long it stood."""

import numpy as np

from pipeline.assess import of_days
from pipeline.clock import Period
from pipeline.config.limits import Limit
from pipeline.episodes import Held
from pipeline.record import Record
from pipeline.result import LimitResult


def assess(record: Record, limit: Limit, period: Period) -> LimitResult:
    """Return the worst day."""
    return of_days(record, limit, period, _mean, is_extreme=False)


def _mean(day: Held) -> float:
    return float(np.average(day.value, weights=day.end - day.start))
