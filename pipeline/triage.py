"""Triage: which findings belong to a period, and which instruments a technician should see first."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import polars as pl

from pipeline.case import Case
from pipeline.clock import Period, midnight
from pipeline.finding import SEVERITIES, Finding, Status
from pipeline.result import Excursion
from pipeline.week import Entry
from pipeline.wording import day_text

LONGEST_LIST = 10
"""Instruments on one calibration list; the rest are counted. Common practice, no source."""

SETTLED = ("dismissed", "process")
"""Verdicts after which a finding asks for nobody's time any more."""


def of_period(findings: list[Finding], period: Period, verdicts: pl.DataFrame) -> list[Finding]:
    """Return the findings that concern a period, most pressing first, with status and verdict.

    Parameters
    ----------
    findings : list of Finding
        Of every case's whole past.
    verdicts : DataFrame of VERDICTS
        What people have said of findings by the end of the period; the newest word counts.
    """
    words = dict(verdicts.sort("time").select("finding_id", "verdict").iter_rows())
    here = [
        replace(finding, status=_status(finding, period), verdict=words.get(finding.finding_id, ""))
        for finding in _first_of_each_id(findings)
        if _concerns(finding, period)
    ]
    return sorted(here, key=_pressing)


def _first_of_each_id(findings: list[Finding]) -> list[Finding]:
    """Keep one finding an id: the longest of those that crossed on the same day."""
    kept: dict[str, Finding] = {}
    for finding in sorted(findings, key=lambda f: (f.start, f.tag)):
        other = kept.get(finding.finding_id)
        if other is None or _length(finding) > _length(other):
            kept[finding.finding_id] = finding
    return list(kept.values())


def _length(finding: Finding) -> timedelta:
    return (finding.end or datetime.max.replace(tzinfo=UTC)) - finding.start


def _concerns(finding: Finding, period: Period) -> bool:
    began = midnight(finding.crossed, period.zone) < period.end
    return began and (finding.end is None or finding.end > period.start or _is_new(finding, period))


def _is_new(finding: Finding, period: Period) -> bool:
    return midnight(finding.crossed, period.zone) >= period.start


def _status(finding: Finding, period: Period) -> Status:
    if _is_new(finding, period):
        return "new"
    return "ongoing" if finding.is_open or (finding.end or period.end) >= period.end else "cleared"


def _pressing(finding: Finding) -> tuple[object, ...]:
    """Order: severity, then how far past tolerance, then open before over, then by name."""
    return (
        SEVERITIES.index(finding.severity),
        -_times_tolerance(finding),
        finding.end is not None,
        finding.tag,
        finding.kind,
        finding.crossed,
    )


def _times_tolerance(finding: Finding) -> float:
    """Present error over tolerance, counted at the cautious end of its interval; 1 where there is none."""
    if finding.estimate is None or not finding.tolerance:
        return 1.0
    nearest = min(abs(finding.ci_low or 0.0), abs(finding.ci_high or 0.0))
    return max(nearest, 0.5 * abs(finding.estimate)) / finding.tolerance


def calibration_list(findings: list[Finding], cases: dict[str, Case]) -> tuple[list[Entry], int]:
    """Return the calibration list and how many instruments more it would hold.

    One entry an instrument, led by its most pressing finding. Findings for the record, those that
    are over and ask for nothing, and those settled by a verdict stay off it.
    """
    pressing = [f for f in findings if f.severity != "note" and f.status != "cleared"]
    wanted = [f for f in pressing if f.verdict not in SETTLED]
    by_device: dict[str, list[Finding]] = {}
    for finding in sorted(wanted, key=lambda f: (_rank(f, cases), _pressing(f))):
        by_device.setdefault(finding.instrument, []).append(finding)
    entries = [
        Entry(rank, found[0], _last_calibrated(cases[found[0].tag]), tuple(found[1:]))
        for rank, found in enumerate(by_device.values(), start=1)
    ]
    return entries[:LONGEST_LIST], max(len(entries) - LONGEST_LIST, 0)


def _rank(finding: Finding, cases: dict[str, Case]) -> float:
    """Lower is more pressing: severity, times tolerance, and double where it guards a limit."""
    instrument = cases[finding.tag].instrument
    weight = 2.0 if instrument and instrument.guards else 1.0
    return SEVERITIES.index(finding.severity) * 1000.0 - weight * min(_times_tolerance(finding), 100.0)


def _last_calibrated(case: Case) -> str:
    done = case.services.filter(pl.col("kind").is_in(["calibration", "replacement"]))
    return day_text(done["time"][-1], case.zone) if done.height else ""


def with_doubt(excursions: list[Excursion], findings: list[Finding]) -> list[Excursion]:
    """Point every excursion at a finding on the instrument that measured it, where there is one.

    Of a finding that a verdict settled no doubt is left.
    """
    doubted = []
    for excursion in excursions:
        on_it = [f for f in findings if f.tag == excursion.limit.tag and _overlaps(f, excursion)]
        doubted.append(excursion.doubted(on_it[0].finding_id) if on_it else excursion)
    return doubted


def _overlaps(finding: Finding, excursion: Excursion) -> bool:
    if finding.kind == "gap" or finding.verdict in SETTLED:
        return False
    return finding.start < excursion.end and (finding.end is None or finding.end > excursion.start)
