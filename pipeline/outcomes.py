"""Outcomes: how often the list was right, by kind of finding, over the last 12 months.

A person's verdict counts before anything else. Where nobody gave one, the service that ended a drift may
tell: its as-found reading has the finding's error, or it has not.
"""

from collections.abc import Iterable, Mapping
from datetime import timedelta

import polars as pl

from pipeline.case import Case
from pipeline.clock import Period, midnight
from pipeline.finding import Finding
from pipeline.service.visits import visits

ANSWERS = ("confirmed", "dismissed", "process", "borne_out", "not_borne_out")

BORNE_OUT_SHARE = 0.5
"""An error found on the finding's side that is at least so large a part of the tolerance bears it out: half
a tolerance is well beyond the reading error of a service. Common practice, no source."""


def outcomes(
    findings: Iterable[Finding], cases: Mapping[str, Case], verdicts: pl.DataFrame, period: Period
) -> pl.DataFrame:
    """Count what became of findings.

    Parameters
    ----------
    findings : iterable of Finding
        Of every case's whole past.
    cases : mapping of str to Case
        By tag.
    verdicts : DataFrame of VERDICTS
        By the end of the period; of several on one finding the newest counts.

    Returns
    -------
    DataFrame of ``kind, confirmed, dismissed, process, borne_out, not_borne_out``
        By kind; verdicts of the last 12 months, and findings of the last 12 months that a service
        closed before anybody gave a verdict.
    """
    told = _told(verdicts)
    year = pl.lit(period.end).dt.offset_by("-12mo")
    recent = told.filter(pl.col("time") > year).select("kind", "answer")
    answered = set(told["finding_id"])
    begin = pl.select(year).item()
    crossed_lately = [f for f in findings if begin < midnight(f.crossed, period.zone) < period.end]
    seen = {
        finding.finding_id: (finding.kind, answer)
        for finding in crossed_lately
        if finding.severity != "note" and finding.finding_id not in answered
        if (answer := _at_service(finding, cases[finding.tag])) is not None
    }
    served = pl.DataFrame(list(seen.values()), {"kind": pl.String, "answer": pl.String}, orient="row")
    both = pl.concat([recent, served])
    return (
        both.group_by("kind")
        .agg((pl.col("answer") == answer).sum().alias(answer) for answer in ANSWERS)
        .sort("kind")
    )


def unknown_answers(findings: Iterable[Finding], verdicts: pl.DataFrame) -> tuple[str, ...]:
    """Return the findings that verdicts name and nothing ever found, by name: slips of the pen."""
    known = {finding.finding_id for finding in findings}
    return tuple(sorted(set(verdicts["finding_id"].to_list()) - known))


def _told(verdicts: pl.DataFrame) -> pl.DataFrame:
    """Return ``finding_id, kind, answer, time``: the newest verdict on each finding that has a kind."""
    kind = pl.col("finding_id").str.split(".").list.get(-2, null_on_oob=True).alias("kind")
    newest = verdicts.sort("time", maintain_order=True).unique("finding_id", keep="last", maintain_order=True)
    told = newest.select("finding_id", kind, pl.col("verdict").alias("answer"), "time")
    return told.drop_nulls("kind")


def _at_service(finding: Finding, case: Case) -> str | None:
    """Return what the service that ended a finding found; None where it does not tell."""
    if finding.estimate is None or finding.end is None:
        return None
    crossed = midnight(finding.crossed, case.zone)
    over = midnight(finding.end.astimezone(case.zone).date() + timedelta(days=1), case.zone)
    during = (visit for visit in visits(case) if visit.restarts and crossed <= visit.time < over)
    after = next(during, None)
    if after is None or after.found is None or after.found.share is None:
        return None
    same_side = after.found.amount * finding.estimate > 0
    is_large = abs(after.found.share) >= BORNE_OUT_SHARE
    return "borne_out" if same_side and is_large else "not_borne_out"
