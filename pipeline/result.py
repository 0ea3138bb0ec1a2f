"""Result: what a limit came to in a period, and the episodes outside it."""

from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Literal

from pipeline.config.limits import Limit

LimitStatus = Literal["within", "near", "outside", "not assessable"]


@dataclass(frozen=True)
class Excursion:
    """One episode outside a limit.

    Parameters
    ----------
    start, end : datetime
        First and last instant outside [UTC]; ``end`` is where the record first stands inside again.
    minutes : float
        Time known to be outside [min]; time without good readings is not in it.
    worst : float
        The value furthest out [unit of the limit], at `worst_at`.
    area : float
        Integral of the distance beyond the limit over that time [unit x min].
    minutes_unknown : float
        Time between `start` and `end` for which no good reading stands [min].
    open_start, open_end : bool
        The record begins, or ends, inside the episode, so that it may be longer.
    """

    limit: Limit
    start: datetime
    end: datetime
    minutes: float
    worst: float
    worst_at: datetime
    area: float
    unit: str
    minutes_unknown: float = 0.0
    open_start: bool = False
    open_end: bool = False
    instrument_doubt: str = ""

    @property
    def excursion_id(self) -> str:
        """Stable id: the limit and the instant it was first exceeded."""
        return f"{self.limit.limit_id}.{self.start:%Y-%m-%dT%H%MZ}"

    def doubted(self, finding: str) -> "Excursion":
        """Return the same excursion, pointing at a finding on its instrument."""
        return replace(self, instrument_doubt=finding)


@dataclass(frozen=True)
class LimitResult:
    """One limit over one period; `value` is the statistic's worst value in it."""

    limit: Limit
    period_start: datetime
    period_end: datetime
    status: LimitStatus
    unit: str
    value: float | None = None
    minutes_outside: float = 0.0
    longest_minutes: float = 0.0
    worst: float | None = None
    worst_at: datetime | None = None
    coverage_pct: float = 0.0
    excursions: tuple[Excursion, ...] = ()
    days: tuple[tuple[datetime, float | None], ...] = field(default=())
    """Start of each local day with the day's own value, for statistics of a day."""
