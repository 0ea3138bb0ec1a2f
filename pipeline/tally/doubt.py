"""Doubt: what a limit would come to over the interval of its instrument's error.

A second look, for review: nothing is corrected and no record is changed. The readings less the error, at
either end of its interval, are judged as the limit judges the record; what both ends say is told beside it.
An error that grew is taken to have grown at its present rate, and to have been nothing before it began.
"""

from collections.abc import Callable, Iterable
from dataclasses import replace
from functools import partial

import polars as pl

from pipeline.case import Case
from pipeline.finding import Finding
from pipeline.result import Doubt, LimitResult

_WEEK_S = 604_800.0
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


def doubted(result: LimitResult, finding: Finding, look: Look) -> LimitResult:
    """Return the result with what it would be at both ends of the error's interval."""
    low, high = finding.ci_low, finding.ci_high
    if finding.estimate is None or low is None or high is None:
        doubt = Doubt(finding.finding_id, finding.instrument, finding.tag, finding.kind, finding.unit)
        return replace(result, doubt=doubt)
    ends = [look(partial(less, finding=finding, error=error)) for error in (low, high)]
    told = tuple((one.value, one.status) for one in ends)
    return replace(
        result,
        doubt=Doubt(
            finding.finding_id, finding.instrument, finding.tag, finding.kind, finding.unit, (low, high), told
        ),
    )


def less(case: Case, finding: Finding, error: float) -> Case:
    """Return the case with its readings less `error` [unit], which it had reached at the finding's end."""
    end = min(finding.end or case.as_of, case.as_of)
    time = pl.col("time")
    here = (time >= finding.start) & (time < end)
    weeks = (pl.lit(end) - time).dt.total_seconds() / _WEEK_S
    share = (1.0 - weeks * _growth(finding)).clip(0.0, 1.0)
    value = pl.when(here).then(pl.col("value") - error * share).otherwise(pl.col("value"))
    if case.tag.low is not None:
        # No instrument shows less than the foot of its span.
        value = pl.max_horizontal(value, pl.min_horizontal(pl.lit(case.tag.low), pl.col("value")))
    return replace(case, readings=case.readings.with_columns(value.alias("value")))


def _growth(finding: Finding) -> float:
    """Share of the present error that was added a week; nothing where it does not grow."""
    rate, now = finding.rate_per_week, finding.estimate
    return max(0.0, rate / now) if rate and now else 0.0
