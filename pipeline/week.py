"""Week: everything one report says, ready to be written down."""

from dataclasses import dataclass, field

import polars as pl

from pipeline.case import Case
from pipeline.clock import Period
from pipeline.config.load import Plant
from pipeline.finding import Finding
from pipeline.result import Excursion, LimitResult


@dataclass(frozen=True)
class Entry:
    """One line of the calibration list: the finding that puts an instrument there, and its company."""

    rank: int
    finding: Finding
    last_calibrated: str
    also: tuple[Finding, ...] = ()


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
    verdict_tally : DataFrame
        ``kind, confirmed, dismissed, process`` over the last 12 months.
    usual : dict of str to DataFrame
        For the tags that are drawn: ``time, expected, scale``, hour by hour
        (`pipeline.baseline.seasonal.usual_course`).
    config_hash : str
        Of the config files as they were read; the report prints it.
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
    usual: dict[str, pl.DataFrame] = field(default_factory=dict)
