"""Reported: findings read back from the reports, for what is looked into without judging the archive anew."""

from datetime import date, datetime

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
    """Return every finding as the newest report that holds it tells it, by id."""
    newest: dict[str, Finding] = {}
    for path in sorted(plant.reports.glob("[!.]*/findings.csv")):
        rows = pl.read_csv(path, infer_schema=False)
        if set(_TEXT) <= set(rows.columns):
            newest |= {row["finding_id"]: _finding(row) for row in rows.iter_rows(named=True)}
    return [newest[name] for name in sorted(newest)]


def _finding(row: dict[str, str | None]) -> Finding:
    text = {name: row[name] or "" for name in _TEXT}
    crossed = date.fromisoformat(text.pop("finding_id")[-10:])
    edges = [row[name] or "" for name in ("start", "end")]
    start, end = (datetime.fromisoformat(edge) if edge else None for edge in edges)
    assert start
    return Finding(crossed=crossed, start=start, end=end, **text)  # type: ignore[arg-type]
