"""Tables: the report's CSVs, whose columns are a promise; a blank cell is something not known."""

import csv
from collections.abc import Iterator
from datetime import datetime
from io import StringIO

from pipeline.case import RESTARTS
from pipeline.report.upkeep import upkeep
from pipeline.report.upset_rows import Cell, upset_row
from pipeline.week import Entry, Week

Rows = Iterator[tuple[Cell, ...]]

COLUMNS = {
    "findings.csv": [
        "finding_id",
        "tag",
        "instrument",
        "kind",
        "severity",
        "status",
        "start",
        "end",
        "estimate",
        "unit",
        "ci_low",
        "ci_high",
        "rate_per_week",
        "reference",
        "evidence",
        "check_first",
        "tolerance",
        "tolerance_source",
        "verdict",
    ],
    "limits.csv": [
        "limit_id",
        "tag",
        "label",
        "statistic",
        "period_start",
        "period_end",
        "value",
        "limit_low",
        "limit_high",
        "unit",
        "status",
        "minutes_outside",
        "longest_minutes",
        "worst",
        "worst_at",
        "coverage_pct",
        "source",
    ],
    "excursions.csv": [
        "excursion_id",
        "limit_id",
        "tag",
        "start",
        "end",
        "minutes",
        "worst",
        "worst_at",
        "area",
        "unit",
        "instrument_doubt",
    ],
    "coverage.csv": [
        "tag",
        "expected",
        "present",
        "good",
        "coverage_pct",
        "longest_gap_minutes",
        "last_seen",
    ],
    "calibration-list.csv": [
        "rank",
        "instrument",
        "tag",
        "place",
        "finding_id",
        "why",
        "estimate",
        "unit",
        "tolerance",
        "reaches_tolerance_on",
        "last_calibrated",
        "check_first",
    ],
    "field-sheet.csv": [
        "instrument",
        "place",
        "finding_id",
        "time",
        "kind",
        "as_found",
        "reference",
        "cleaned",
        "reference_after",
        "as_left",
        "by",
        "verdict",
        "note",
    ],
    "service-intervals.csv": [
        "instrument",
        "tag",
        "place",
        "last_service",
        "service_days",
        "due_on",
        "services",
        "worst_error",
        "unit",
        "usual_days",
        "borne_days",
        "suggested_days",
        "held_by",
        "evidence",
    ],
    "upsets.csv": [
        "upset_id",
        "start",
        "end",
        "severity",
        "first_mover",
        "tags",
        "limits_touched",
        "summary",
    ],
}


def tables(week: Week) -> dict[str, str]:
    """Return every CSV of the week as text, by file name."""
    rows = {
        "findings.csv": _findings(week),
        "limits.csv": _limits(week),
        "excursions.csv": _excursions(week),
        "coverage.csv": _coverage(week),
        "calibration-list.csv": _calibration(week),
        "field-sheet.csv": _sheet(week),
        "service-intervals.csv": _intervals(week),
        "upsets.csv": (upset_row(one, week.as_of) for one in week.upsets if one.upset),
    }
    return {name: _written(week, COLUMNS[name], rows[name]) for name in COLUMNS}


def _written(week: Week, columns: list[str], rows: Rows) -> str:
    sheet = StringIO()
    writer = csv.writer(sheet, lineterminator="\n")
    writer.writerow(columns)
    for row in rows:
        assert len(row) == len(columns), columns
        writer.writerow([_cell(week, value) for value in row])
    return sheet.getvalue()


def _cell(week: Week, value: Cell) -> str:
    if value is None:
        return ""
    if isinstance(value, datetime):
        return week.period.text(value)
    if isinstance(value, float):
        # Six decimals are beyond any instrument; more would only show how floats are kept.
        plain = f"{value:.6f}".rstrip("0").rstrip(".")
        return "0" if plain == "-0" else plain
    return str(value)


def _findings(week: Week) -> Rows:
    for f in week.findings:
        yield (
            *(f.finding_id, f.tag, f.instrument, f.kind, f.severity, f.status, f.start, f.end),
            *(f.estimate, f.unit, f.ci_low, f.ci_high, f.rate_per_week, f.reference, f.evidence),
            *(f.check_first, f.tolerance, f.tolerance_source, f.verdict),
        )


def _limits(week: Week) -> Rows:
    for r in week.limits:
        yield (
            *(r.limit.limit_id, r.limit.tag, r.limit.label, r.limit.statistic, r.period_start, r.period_end),
            *(r.value, r.low, r.high, r.unit, r.status, r.minutes_outside, r.longest_minutes),
            *(r.worst, r.worst_at, r.coverage_pct, r.limit.source),
        )


def _excursions(week: Week) -> Rows:
    for e in week.excursions:
        yield (
            *(e.excursion_id, e.limit.limit_id, e.limit.tag, e.start, e.end, e.minutes, e.worst, e.worst_at),
            *(e.area, e.unit, e.instrument_doubt),
        )


def _coverage(week: Week) -> Rows:
    yield from week.coverage.select(COLUMNS["coverage.csv"]).iter_rows()


def _calibration(week: Week) -> Rows:
    for entry in week.entries:
        f = entry.finding
        yield (
            *(entry.rank, f.instrument, f.tag, place_of(week, entry), f.finding_id, f.evidence, f.estimate),
            *(f.unit, f.tolerance, f.reaches_tolerance_on, entry.last_calibrated, f.check_first),
        )


def _sheet(week: Week) -> Rows:
    """Lines of calibrations.csv and verdicts.csv in one, to be filled in."""
    for entry in week.entries:
        f = entry.finding
        yield (
            *(f.instrument, place_of(week, entry), f.finding_id, None, usual_kind(week, entry)),
            *(None,) * 8,
        )


def usual_kind(week: Week, entry: Entry) -> str:
    """Return the kind of service that the instrument got last; calibration where none is on file."""
    case = week.cases.get(entry.finding.tag)
    kinds = [kind for kind in case.services["kind"].to_list() if kind in RESTARTS] if case else []
    return kinds[-1] if kinds else RESTARTS[0]


def _intervals(week: Week) -> Rows:
    for one in upkeep(week):
        told, case = one.interval, one.case
        yield (
            *(case.device, case.tag.tag, one.place, one.last, one.plan_days, one.due, len(one.past)),
            *(one.worst, case.tag.unit),
            *((told.usual_days, told.borne_days, told.suggested_days, told.held_by) if told else (None,) * 4),
            one.found,
        )


def place_of(week: Week, entry: Entry) -> str:
    """Return where the instrument stands: its place, else its area's name."""
    instrument = week.plant.instruments.get(entry.finding.instrument)
    if instrument is not None and instrument.place:
        return instrument.place
    tag = week.plant.tags.get(entry.finding.tag)
    return next((area.name for area in week.plant.file.area if tag and area.id == tag.area), "")
