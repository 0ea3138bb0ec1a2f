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
class Bounds:
    """What a count or a share made by a limit is held against, where that is not the limit's own number.

    Parameters
    ----------
    low, high : float or None
        In the unit of the result.
    width : float
        A tenth of it before the bound is near.
    """

    low: float | None = None
    high: float | None = None
    width: float = 0.0


@dataclass(frozen=True)
class Trend:
    """How a margin moved: its slope by least squares with the 95 % interval [unit/week]."""

    slope: float
    low: float
    high: float


@dataclass(frozen=True)
class LimitResult:
    """One limit over one period; `value` is the statistic's worst value in it.

    Parameters
    ----------
    value, raw : float or None
        What is compared with the limit [unit]; the same before it was rounded, where the limit rounds.
    bounds : Bounds or None
        What `value` is held against where that is not the limit's own number.
    rule, note : str
        What the bound is of ("of readings at most 0.3 NTU"); what more to know of the value.
    so_far : bool
        The stretch it is taken over had not ended: a word for the time until now.
    margins : tuple of float or None
        How far inside the limit [unit] each of the eight weeks before stayed, oldest first, and this one.
    trend : Trend or None
        Of the margins.
    """

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
    raw: float | None = None
    bounds: Bounds | None = None
    rule: str = ""
    note: str = ""
    so_far: bool = False
    margins: tuple[float | None, ...] = ()
    trend: Trend | None = None

    @property
    def low(self) -> float | None:
        """Lower number that `value` is held against [unit]."""
        return self.bounds.low if self.bounds else self.limit.low

    @property
    def high(self) -> float | None:
        """Upper number that `value` is held against [unit]."""
        return self.bounds.high if self.bounds else self.limit.high
