"""Doubt: what a limit would come to over the interval of its instrument's error.

A second look, for review: nothing is corrected and no record is changed. The readings less the error, at
either end of its interval, are judged as the limit judges the record; what both ends say is told beside it.
Where the instrument may have lost of its sensitivity, the readings are also judged as having lost that share:
an error learned at 0.9 mg/L says little of a reading of 0.1 mg/L.
An error that grew is taken to have grown at its present rate, and to have been nothing before it began.
"""

from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import datetime
from functools import partial

import polars as pl

from pipeline.case import Case
from pipeline.finding import Finding
from pipeline.result import Doubt, LimitResult

_WEEK_S = 604_800.0

BY_AMOUNT = ("ph", "orp", "temperature", "level", "pressure", "head_loss")
"""Measures that go off by the same amount wherever they read; others may have lost a share of the reading, as
behind a fouled membrane or a coated window. Common practice, no source."""

Look = Callable[[Callable[[Case], Case]], LimitResult]
"""Judge a limit again with the case of the doubted tag changed by a function."""


def by_tag(findings: Iterable[Finding]) -> dict[str, Finding]:
    """Return the most pressing finding of each tag that asks for a check; those that name an error first.

    One that names none casts its doubt on every tag it is about, such as all those of a silent controller.
    """
    asking = [f for f in findings if f.severity != "note" and f.casts_doubt]
    found: dict[str, Finding] = {}
    for finding in sorted(asking, key=lambda f: not _names_error(f)):
        found.setdefault(finding.tag, finding)
    for finding in asking:
        for other in () if _names_error(finding) else finding.others:
            found.setdefault(other, finding)
    return found


def _names_error(finding: Finding) -> bool:
    return None not in (finding.estimate, finding.ci_low, finding.ci_high)


def doubted(result: LimitResult, case: Case | None, finding: Finding, look: Look) -> LimitResult:
    """Return the result with what it would be at both ends of the error's interval.

    Parameters
    ----------
    case : Case or None
        Of the tag that the finding is about.
    """
    low, high = finding.ci_low, finding.ci_high
    if case is None or finding.estimate is None or low is None or high is None:
        doubt = Doubt(finding.finding_id, finding.instrument, finding.tag, finding.kind, finding.unit)
        return replace(result, doubt=doubt)
    ways = (less, in_share) if _read_meanwhile(case, finding) else (less,)
    ends = [look(partial(way, finding=finding, error=error)) for way in ways for error in (low, high)]
    told = tuple((one.value, one.status) for one in ends)
    return replace(
        result,
        doubt=Doubt(
            finding.finding_id, finding.instrument, finding.tag, finding.kind, finding.unit, (low, high), told
        ),
    )


def less(case: Case, finding: Finding, error: float) -> Case:
    """Return the case with its readings less `error` [unit], which it had reached at the finding's end."""
    return _with(case, finding, lambda reached: pl.col("value") - error * reached)


def in_share(case: Case, finding: Finding, error: float) -> Case:
    """Return the case with its readings less the share that `error` was of what it read meanwhile."""
    usual = _read_meanwhile(case, finding)
    if usual is None:
        return less(case, finding, error)
    return _with(case, finding, lambda reached: pl.col("value") * (1.0 - error / usual * reached).clip(0.0))


def _read_meanwhile(case: Case, finding: Finding) -> float | None:
    """Return the median reading of the finding's time; None where no share of it can have been lost."""
    start, end = _span(case, finding)
    here = pl.col("good") & pl.col("time").is_between(start, end, closed="left")
    usual = case.readings.filter(here)["value"].median()
    if case.tag.measures in BY_AMOUNT or not isinstance(usual, float) or usual <= 0.0:
        return None
    return usual


def _span(case: Case, finding: Finding) -> tuple[datetime, datetime]:
    return finding.start, min(finding.end or case.as_of, case.as_of)


def _with(case: Case, finding: Finding, changed: Callable[[pl.Expr], pl.Expr]) -> Case:
    """Return the case with its readings changed by how much of the error had been reached at each."""
    start, end = _span(case, finding)
    time = pl.col("time")
    here = (time >= start) & (time < end)
    weeks = (pl.lit(end) - time).dt.total_seconds() / _WEEK_S
    reached = (1.0 - weeks * _growth(finding)).clip(0.0, 1.0)
    value = pl.when(here).then(changed(reached)).otherwise(pl.col("value"))
    if case.tag.low is not None:
        # No instrument shows less than the foot of its span.
        value = pl.max_horizontal(value, pl.min_horizontal(pl.lit(case.tag.low), pl.col("value")))
    return replace(case, readings=case.readings.with_columns(value.alias("value")))


def _growth(finding: Finding) -> float:
    """Share of the present error that was added a week; nothing where it does not grow."""
    rate, now = finding.rate_per_week, finding.estimate
    return max(0.0, rate / now) if rate and now else 0.0
