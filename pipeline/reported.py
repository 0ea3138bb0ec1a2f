"""Reported: findings read back from the reports, for what is looked into without judging the archive anew."""

import json
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path

import polars as pl

from pipeline.config.load import Plant
from pipeline.finding import Finding

_TEXT = (
    "finding_id",
    "tag",
    "instrument",
    "kind",
    "severity",
    "evidence",
    "check_first",
    "reference",
    "verdict",
)


def reported_findings(plant: Plant) -> list[Finding]:
    """Return every finding as the newest report that holds it tells it, by id.

    One that was open there, and of which a report of a later time says nothing more, was over by the end of
    the time that it was last told of.
    """
    newest: dict[str, tuple[Finding, str]] = {}
    last = ""
    for until, path in sorted((_until(path), path) for path in plant.reports.glob("[!.]*/findings.csv")):
        rows = pl.read_csv(path, infer_schema=False)
        if set(_TEXT) <= set(rows.columns):
            newest |= {row["finding_id"]: (_finding(row), until) for row in rows.iter_rows(named=True)}
            last = until
    return [_over(*newest[name], last) for name in sorted(newest)]


def _until(findings: Path) -> str:
    """Return the end of the time that a report is of [UTC, ISO 8601]; blank where it does not say."""
    try:
        told = json.loads((findings.parent / "run.json").read_text(encoding="utf-8"))["period_end"]
        return datetime.fromisoformat(told).astimezone(UTC).isoformat()
    except (OSError, ValueError, KeyError, TypeError):
        return ""


def _over(finding: Finding, until: str, last: str) -> Finding:
    return (
        replace(finding, end=datetime.fromisoformat(until))
        if not finding.end and "" < until < last
        else finding
    )


def _finding(row: dict[str, str | None]) -> Finding:
    text = {name: row[name] or "" for name in _TEXT}
    crossed = date.fromisoformat(text.pop("finding_id")[-10:])
    edges = [row[name] or "" for name in ("start", "end")]
    start, end = (datetime.fromisoformat(edge) if edge else None for edge in edges)
    assert start
    return Finding(crossed=crossed, start=start, end=end, **text)  # type: ignore[arg-type]
