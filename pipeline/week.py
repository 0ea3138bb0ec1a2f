"""Week: everything one report says, ready to be written down."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime

import polars as pl

from pipeline.case import Case
from pipeline.clock import Period
from pipeline.config.load import Plant
from pipeline.finding import Finding
from pipeline.result import Excursion, Inactivation, LimitResult
from pipeline.upsets.inquiry import Inquiry


@dataclass(frozen=True)
class Rank:
    """Why an entry stands where it does: the product of three numbers.

    Parameters
    ----------
    times : float
        Present error in tolerances, or what stands for it where no error can be named.
    weight : float
        1, or more where the instrument guards a limit.
    certainty : float
        How sure it is that the error is past the tolerance: 0 to 1.
    guards : tuple of str
        Names of the limits it guards.
    """

    times: float
    weight: float
    certainty: float
    guards: tuple[str, ...] = ()

    @property
    def score(self) -> float:
        """The higher, the more pressing."""
        return self.times * self.weight * self.certainty


@dataclass(frozen=True)
class Entry:
    """One line of the calibration list: the finding that puts an instrument there, and its company."""

    rank: int
    finding: Finding
    last_calibrated: date | None
    also: tuple[Finding, ...] = ()
    why: Rank | None = None


@dataclass(frozen=True)
class Refused:
    """Readings of one tag that were delivered and refused: how many, and of which days; none = not told."""

    tag: str
    days: frozenset[date]
    readings: int


@dataclass(frozen=True)
class Week:
    """One period of one plant.

    Parameters
    ----------
    plant, period : Plant, Period
        Whose, and which.
    cases : dict of str to Case
        By tag, in the config's order.
    findings : tuple of Finding
        All of the period, most pressing first.
    entries : tuple of Entry
        The calibration list.
    entries_beyond_cap : int
        How many instruments more the list would hold.
    limits : tuple of LimitResult
        In the config's order.
    excursions : tuple of Excursion
        By start.
    coverage : DataFrame
        ``tag, expected, present, good, coverage_pct, longest_gap_minutes, last_seen``.
    deliveries : DataFrame
        Ledger lines of the deliveries that hold readings of the period.
    refused : tuple of Refused
        What those deliveries held of known tags and could not be read, and others of which nothing could.
    verdict_tally : DataFrame
        ``kind, confirmed, dismissed, process, borne_out, not_borne_out`` over the last 12 months
        (`pipeline.outcomes`).
    usual : dict of str to DataFrame
        For the tags that are drawn: ``time, expected, scale``, hour by hour
        (`pipeline.baseline.seasonal.usual_course`).
    inactivation : Inactivation or None
        What disinfection came to; None without disinfection segments.
    unknown_answers : tuple of str
        Findings that verdicts name and nothing ever found.
    asking : frozenset of str
        Ids of the findings that ask for somebody; the others are for the record, over or settled.
    came_back : tuple of Finding
        Those that asked for somebody and are over without a service that would tell why.
    config_hash : str
        Of the config files as they were read; the report prints it.
    upsets : tuple of Inquiry
        What went wrong together, by its beginning; the most pressing were looked into.
    """

    plant: Plant
    period: Period
    cases: dict[str, Case]
    findings: tuple[Finding, ...]
    entries: tuple[Entry, ...]
    entries_beyond_cap: int
    limits: tuple[LimitResult, ...]
    excursions: tuple[Excursion, ...]
    coverage: pl.DataFrame
    deliveries: pl.DataFrame
    verdict_tally: pl.DataFrame
    config_hash: str = ""
    unknown_answers: tuple[str, ...] = ()
    usual: dict[str, pl.DataFrame] = field(default_factory=dict)
    inactivation: Inactivation | None = None
    upsets: tuple[Inquiry, ...] = ()
    asking: frozenset[str] = frozenset()
    came_back: tuple[Finding, ...] = ()
    refused: tuple[Refused, ...] = ()

    @property
    def as_of(self) -> datetime:
        """Up to when the period is known: its end, or where the exports end before that."""
        return known_until(self.period, self.cases)


def known_until(period: Period, cases: Mapping[str, Case]) -> datetime:
    """Return the end of a period, or the instant before it at which the cases end."""
    return min(period.end, max((case.as_of for case in cases.values()), default=period.end))
