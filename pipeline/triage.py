"""Triage: which findings belong to a period, and which instruments a technician should see first."""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from math import erf, sqrt

import polars as pl

from pipeline import bench, moment
from pipeline.case import RESTARTS, Case
from pipeline.clock import Period, midnight
from pipeline.config.limits import Limit
from pipeline.finding import SETTLED, SEVERITIES, Finding, Status
from pipeline.result import Excursion
from pipeline.week import Entry, Rank

LONGEST_LIST = 10
"""Instruments on one calibration list; the rest are counted. Common practice, no source."""

A_DAYS_LIST = 3
"""The same for a report of one day: what a technician can visit in a day. Common practice, no source."""

GUARDS_ACT, GUARDS_WATCH, GUARDS_NOTHING = 3.0, 2.0, 1.0
"""Weight of an instrument that guards a limit to act on, any other limit, none. Common practice, no
source."""

NO_READING = 2.0
"""An instrument without a usable reading now stands as one that is off by twice its tolerance, any other
finding without a named error as one at its tolerance. Common practice, no source."""

OWN_WORD = 0.5
"""Certainty of what rests on the instrument's own past alone: one sensor cannot tell its own drift from the
water's."""

LEAST_CERTAIN = 0.05


def of_period(findings: list[Finding], period: Period, verdicts: pl.DataFrame) -> list[Finding]:
    """Return the findings that concern a period, most pressing first, with status and verdict.

    Parameters
    ----------
    findings : list of Finding
        Of every case's whole past.
    verdicts : DataFrame of VERDICTS
        What people have said of findings by the end of the period; the newest word counts. Somebody
        who found the instrument right, or the water changed, was there: the answer holds for every
        trouble of the tag that was under way.
    """
    every = moment.for_the_record(_first_of_each_id(findings))
    answers = _answers(every, verdicts)
    here = [
        replace(finding, status=_status(finding, period), verdict=_verdict(finding, answers))
        for finding in every
        if _concerns(finding, period)
    ]
    return sorted(here, key=_pressing)


@dataclass(frozen=True)
class _Answer:
    """The last word on one finding; its time is None where nobody wrote one."""

    finding: Finding
    verdict: str
    time: datetime | None


def _answers(findings: list[Finding], verdicts: pl.DataFrame) -> dict[str, _Answer]:
    """Return the last word on each finding, by id, the newest last."""
    words = verdicts.sort("time").select("finding_id", "verdict", "time").rows()
    by_id = {finding.finding_id: finding for finding in findings}
    return {name: _Answer(by_id[name], verdict, time) for name, verdict, time in words if name in by_id}


def _verdict(finding: Finding, answers: dict[str, _Answer]) -> str:
    """Return the word on a finding itself, else the newest that settled what was under way with it."""
    own = answers.get(finding.finding_id)
    if own is not None:
        return own.verdict
    others = [
        answer
        for answer in answers.values()
        if answer.verdict in SETTLED and answer.time is not None and _was_under_way(finding, answer)
    ]
    return max(others, key=lambda answer: answer.time or datetime.min).verdict if others else ""


def _was_under_way(finding: Finding, answer: _Answer) -> bool:
    other = answer.finding
    if finding.tag != other.tag or answer.time is None or finding.start >= answer.time:
        return False
    return finding.end is None or finding.end > other.start


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
        -times_tolerance(finding) * certainty(finding),
        finding.end is not None,
        finding.tag,
        finding.kind,
        finding.crossed,
    )


def times_tolerance(finding: Finding) -> float:
    """Return the present error over the tolerance; what stands for it where no error can be named."""
    if finding.estimate is None or not finding.tolerance:
        return NO_READING if finding.severity == "act" and finding.is_open else 1.0
    return abs(finding.estimate) / finding.tolerance


def certainty(finding: Finding) -> float:
    """Return how sure it is that the error is past the tolerance: 0 to 1.

    From the 95 % interval, taken as normal; 1 where the recording itself shows the trouble.
    """
    by_reference = OWN_WORD if finding.reference == "own history" else 1.0
    if finding.estimate is None or finding.ci_low is None or finding.ci_high is None or not finding.tolerance:
        return by_reference
    sd = abs(finding.ci_high - finding.ci_low) / 3.92
    past = abs(finding.estimate) - finding.tolerance
    share = 0.5 * (1.0 + erf(past / (sd * sqrt(2.0)))) if sd > 0 else float(past > 0)
    return by_reference * max(share, LEAST_CERTAIN)


def longest_list(period: Period) -> int:
    """Return how many instruments the list of a period holds."""
    return A_DAYS_LIST if period.end - period.start <= timedelta(hours=25) else LONGEST_LIST


def asking(findings: Iterable[Finding], cases: Mapping[str, Case]) -> list[Finding]:
    """Return the findings that ask for somebody.

    Not those for the record, those that are over and ask for nothing, those that somebody has attended
    to since, and those settled by a verdict.
    """
    pressing = [f for f in findings if f.severity != "note" and f.status != "cleared"]
    return [f for f in pressing if f.verdict not in SETTLED and not _is_attended(f, cases[f.tag])]


def came_back(findings: Iterable[Finding], cases: Mapping[str, Case]) -> list[Finding]:
    """Return the findings that asked for somebody, are over, and nobody wrote down why.

    Gaps and what strayed are told elsewhere; an instrument that still asks is looked at anyway.
    """
    every = list(findings)
    asks = {finding.instrument for finding in asking(every, cases)}
    over = [f for f in every if f.status == "cleared" and f.severity != "note" and f.casts_doubt]
    return [f for f in over if f.instrument not in asks and not _is_attended(f, cases[f.tag])]


def calibration_list(
    findings: list[Finding],
    cases: dict[str, Case],
    limits: Collection[Limit] = (),
    most: int = LONGEST_LIST,
) -> tuple[list[Entry], int]:
    """Return the calibration list and how many instruments more it would hold.

    One entry an instrument, led by its most pressing finding, with one more of every other kind, of
    those `asking`. Those to act on come first; among them the order is that of *times its tolerance*,
    by *what it guards*, by *how sure it is*.

    Parameters
    ----------
    limits : collection of Limit
        The plant's: an instrument guards those of its own tags, and those its config names.
    most : int
        Length of the list.
    """
    asked = bench.in_one_line(moment.in_one_line(asking(findings, cases)), cases)
    ranked = [(_rank(finding, cases[finding.tag], limits), finding) for finding in asked]
    by_device: dict[str, list[tuple[Rank, Finding]]] = {}
    for rank, finding in sorted(ranked, key=lambda pair: (_order(*pair), _pressing(pair[1]))):
        by_device.setdefault(finding.instrument, []).append((rank, finding))
    entries = [_entry(place, found, cases) for place, found in enumerate(by_device.values(), start=1)]
    return entries[:most], max(len(entries) - most, 0)


def _is_attended(finding: Finding, case: Case) -> bool:
    """Whether it is over, and the instrument was serviced on the day it ended or later."""
    if finding.end is None:
        return False
    ended = midnight(finding.end.astimezone(case.zone).date(), case.zone)
    since = (pl.col("time") >= ended) & (pl.col("time") >= finding.start)
    return not case.services.filter(since & pl.col("kind").is_in(RESTARTS)).is_empty()


def _order(rank: Rank, finding: Finding) -> tuple[float, ...]:
    return SEVERITIES.index(finding.severity), -rank.score


def _rank(finding: Finding, case: Case, limits: Collection[Limit]) -> Rank:
    named = case.instrument.guarded if case.instrument else ()
    guarded = [limit for limit in limits if limit.tag == finding.tag or limit.limit_id in named]
    weight = GUARDS_WATCH if guarded or named else GUARDS_NOTHING
    if any(limit.severity == "act" for limit in guarded):
        weight = GUARDS_ACT
    names = tuple(limit.name for limit in guarded)
    return Rank(times_tolerance(finding), weight, certainty(finding), names)


def _entry(place: int, found: list[tuple[Rank, Finding]], cases: dict[str, Case]) -> Entry:
    """Return one line of the list; of findings of one kind the most pressing speaks for all."""
    (rank, first), *others = found
    also: dict[str, Finding] = {}
    for _, finding in others:
        if finding.kind != first.kind:
            also.setdefault(finding.kind, finding)
    return Entry(place, first, _last_calibrated(cases[first.tag]), tuple(also.values()), rank)


def _last_calibrated(case: Case) -> date | None:
    done = case.services.filter(pl.col("kind").is_in(["calibration", "replacement"]))
    return done["time"][-1].astimezone(case.zone).date() if done.height else None


def with_doubt(excursions: list[Excursion], findings: list[Finding]) -> list[Excursion]:
    """Point every excursion at a finding on the instrument that measured it, where there is one.

    Of a finding that a verdict settled no doubt is left.
    """
    doubted = []
    for excursion in excursions:
        tag = excursion.limit.tag
        doubting = [f for f in findings if f.casts_doubt and f.overlaps(excursion.start, excursion.end)]
        on_it = [f for f in doubting if tag in (f.tag, *f.others)]
        on_it.sort(key=lambda f: f.tag != tag)
        doubted.append(excursion.doubted(on_it[0].finding_id) if on_it else excursion)
    return doubted
