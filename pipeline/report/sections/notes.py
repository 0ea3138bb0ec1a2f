"""Other notes: findings that put no instrument on the list; what befell many tags at once is told once."""

from datetime import datetime

from markupsafe import Markup

from pipeline.finding import SETTLED, Finding
from pipeline.report.entries import URGENCY
from pipeline.report.render import fill
from pipeline.report.words import anchor, joined, moment, sentence
from pipeline.week import Week

TITLE = "Other notes"
ORDER = 50


def render(week: Week) -> Markup:
    """Return the remaining findings, most pressing first."""
    shown = {entry.finding.finding_id for entry in week.entries}
    shown |= {finding.finding_id for entry in week.entries for finding in entry.also}
    groups: dict[tuple[str, str, str, datetime, datetime | None], list[Finding]] = {}
    for f in week.findings:
        if f.finding_id not in shown:
            key = (f.kind, f.severity, f.verdict or f.status, f.start, f.end)
            groups.setdefault(key, []).append(f)
    return fill("notes.html", rows=[_row(week, group) for group in groups.values()])


def _what(finding: Finding) -> list[str]:
    """Return kind, urgency, status and verdict; of what is over or settled nothing is urgent."""
    asks_nothing = finding.status == "cleared" or finding.verdict in SETTLED
    urgency = "" if asks_nothing else URGENCY[finding.severity].lower()
    parts = (finding.kind.replace("_", " "), urgency, finding.status, finding.verdict)
    return [part for part in parts if part]


def _row(week: Week, group: list[Finding]) -> dict[str, object]:
    first, zone = group[0], week.period.zone
    return {
        "tags": joined([finding.tag for finding in group]),
        "what": " · ".join(_what(first)),
        "since": moment(first.start, zone),
        "until": moment(first.end, zone) if first.end else "still so",
        "why": sentence(first.evidence),
        "ids": [(anchor(f"finding-{finding.finding_id}"), finding.finding_id) for finding in group],
    }
