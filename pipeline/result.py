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
    allowance : str
        How much was used of what the limit allows (``90 of 446 min, Jun 2026``), where it was kept: then
        the episode is for the record and no exceedance.
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
    allowance: str = ""

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
class PeakHour:
    """What a day's disinfection rests on: the hour of highest flow, and the worst of each input in it.

    A day's lowest residual is that of all its hours: the monthly report asks for it (40 CFR 141.75(b)(2)).

    Parameters
    ----------
    day, start : datetime
        The local day's beginning; that of its peak hour [UTC].
    flow_gpm, residual_mg_l, ph, temperature_degc : float
        At the end of the last segment.
    lowest_mg_l : float or None
        Least residual of the whole day at the end of the last segment.
    contact_minutes, ct : float
        T10 [min] of all segments together; CT [mg/L min] added up over them.
    giardia, virus : float or None
        Log inactivation; None where an input is missing or outside the table.
    """

    day: datetime
    start: datetime
    flow_gpm: float
    residual_mg_l: float
    lowest_mg_l: float | None
    ph: float
    temperature_degc: float
    contact_minutes: float
    ct: float
    giardia: float | None
    virus: float | None


@dataclass(frozen=True)
class Inactivation:
    """What disinfection came to.

    Parameters
    ----------
    hours : tuple of (datetime, float or None)
        Log inactivation of Giardia hour by hour; None where it is not known or no water flowed.
    days : tuple of (datetime, PeakHour or None)
        Each local day of the period that asks for a value; None where it has none.
    months : tuple of (datetime, float or None)
        Twelve calendar months, oldest first, with the mean of their days' log inactivation of Giardia.
    benchmark : tuple of (datetime, float) or None
        The month with the lowest mean, where all twelve are known.
    """

    hours: tuple[tuple[datetime, float | None], ...]
    days: tuple[tuple[datetime, PeakHour | None], ...]
    months: tuple[tuple[datetime, float | None], ...]
    benchmark: tuple[datetime, float] | None


@dataclass(frozen=True)
class Doubt:
    """What a result would be if its instrument were off by either end of the interval of its error.

    Parameters
    ----------
    finding_id, instrument, tag, kind, unit : str
        The finding that casts the doubt, on whom; the unit of the error.
    error : (float, float) or None
        The interval's ends [unit]; None where nobody can say how far off it is.
    looks : tuple of (value, status)
        With the readings less the one end, and less the other; where the instrument may have lost a share of
        them, also with the share that each end is.
    """

    finding_id: str
    instrument: str
    tag: str
    kind: str
    unit: str
    error: tuple[float, float] | None = None
    looks: tuple[tuple[float | None, LimitStatus], ...] = ()

    @property
    def statuses(self) -> tuple[LimitStatus, ...]:
        """Every status that the interval reaches, the best first."""
        order: tuple[LimitStatus, ...] = ("within", "near", "not assessable", "outside")
        found = {status for _, status in self.looks}
        return tuple(status for status in order if status in found)


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
    lacks : str
        What the lab's results lack to be judged (``3 of 4 sampled days``); empty where they are enough.
    idle : bool
        The tag was out of service for the whole stretch: beside one in which it was not, it asks for nothing.
    margins : tuple of float or None
        How far inside the limit [unit] each of the eight weeks before stayed, oldest first, and this one.
    trend : Trend or None
        Of the margins.
    doubt : Doubt or None
        Where an instrument it rests on is in doubt: what it would be over the interval of the error.
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
    unknown_days: tuple[datetime, ...] = ()
    """Starts of those of them that asked for a value and have none: too little of them is known."""
    raw: float | None = None
    bounds: Bounds | None = None
    rule: str = ""
    note: str = ""
    so_far: bool = False
    lacks: str = ""
    idle: bool = False
    margins: tuple[float | None, ...] = ()
    trend: Trend | None = None
    doubt: Doubt | None = None

    @property
    def low(self) -> float | None:
        """Lower number that `value` is held against [unit]."""
        return self.bounds.low if self.bounds else self.limit.low

    @property
    def high(self) -> float | None:
        """Upper number that `value` is held against [unit]."""
        return self.bounds.high if self.bounds else self.limit.high
