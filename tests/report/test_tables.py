"""Tables: the columns people's scripts rely on, and cells any reader takes."""

import csv
from datetime import date, datetime
from io import StringIO

import pytest

from pipeline.report.tables import COLUMNS, tables
from tests.report.weeks import empty_week, full_week, nasty_week

# The promise made to users; a change here breaks their scripts.
PROMISED = {
    "findings.csv": "finding_id, tag, instrument, kind, severity, status, start, end, estimate, unit, "
    "ci_low, ci_high, rate_per_week, reference, evidence, check_first, tolerance, tolerance_source, verdict",
    "limits.csv": "limit_id, tag, label, statistic, period_start, period_end, value, limit_low, limit_high, "
    "unit, status, minutes_outside, longest_minutes, worst, worst_at, coverage_pct, source",
    "excursions.csv": "excursion_id, limit_id, tag, start, end, minutes, worst, worst_at, area, unit, "
    "instrument_doubt",
    "coverage.csv": "tag, expected, present, good, coverage_pct, longest_gap_minutes, last_seen",
    "calibration-list.csv": "rank, instrument, tag, place, finding_id, why, estimate, unit, tolerance, "
    "reaches_tolerance_on, last_calibrated, check_first",
    "field-sheet.csv": "instrument, place, finding_id, time, kind, as_found, reference, cleaned, "
    "reference_after, as_left, by, verdict, note",
    "service-intervals.csv": "instrument, tag, place, last_service, service_days, due_on, services, "
    "worst_error, unit, usual_days, borne_days, suggested_days, held_by, evidence",
    "upsets.csv": "upset_id, start, end, severity, first_mover, tags, limits_touched, summary",
}
TIMES = {"start", "end", "period_start", "period_end", "worst_at", "last_seen"}


def parsed(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(StringIO(text)))


@pytest.mark.parametrize("name", PROMISED)
def test_columns_are_the_promised_ones(name: str) -> None:
    assert tables(full_week())[name].split("\n")[0] == PROMISED[name].replace(", ", ",")


def test_no_table_beyond_the_promised_ones() -> None:
    assert set(COLUMNS) == set(PROMISED)


def test_days_are_iso_8601() -> None:
    """The contract's "ISO 8601 times" holds for days too, wherever a column is one."""
    days = {"reaches_tolerance_on", "last_calibrated", "last_service", "due_on"}
    told = tables(full_week())
    cells = [
        row[key] for name in PROMISED for row in parsed(told[name]) for key in days & set(row) if row[key]
    ]
    assert "2026-10-12" in cells
    assert [date.fromisoformat(cell).isoformat() for cell in cells] == cells


@pytest.mark.parametrize("name", PROMISED)
def test_times_are_iso_8601_with_the_plants_offset(name: str) -> None:
    times = [row[key] for row in parsed(tables(full_week())[name]) for key in TIMES & set(row) if row[key]]
    for text in times:
        # Mountain Daylight Time is UTC-6, Mountain Standard Time UTC-7 (15 U.S.C. 260a, 261).
        assert text.endswith("-06:00" if datetime.fromisoformat(text).month == 10 else "-07:00"), text
    assert times or name in ("calibration-list.csv", "field-sheet.csv", "service-intervals.csv", "upsets.csv")


def test_what_is_not_known_is_blank() -> None:
    rows = {row["finding_id"]: row for row in parsed(tables(full_week())["findings.csv"])}
    frozen = rows["AIT-132.frozen.2026-11-12"]
    assert frozen["end"] == frozen["estimate"] == frozen["tolerance"] == ""
    unknown = next(row for row in parsed(tables(empty_week())["limits.csv"]))
    assert (unknown["status"], unknown["value"], unknown["worst_at"]) == ("not assessable", "", "")


def test_numbers_are_plain() -> None:
    rows = {row["limit_id"]: row for row in parsed(tables(full_week())["limits.csv"])}
    assert rows["IFE-123"]["value"] == "0.6199"
    assert rows["CFE-1.0"]["limit_high"] == "1"
    assert rows["CFE-1.0"]["limit_low"] == ""


def test_lines_end_with_a_line_feed_alone() -> None:
    for text in tables(full_week()).values():
        assert text.endswith("\n")
        assert "\r" not in text


def test_nasty_names_survive() -> None:
    week = nasty_week()
    finding = parsed(tables(week)["findings.csv"])[0]
    assert finding["tag"] == week.findings[0].tag
    assert finding["evidence"] == week.findings[0].evidence


def test_excursion_and_finding_point_at_each_other() -> None:
    rows = {row["limit_id"]: row for row in parsed(tables(full_week())["excursions.csv"])}
    assert rows["CL2-RULE"]["instrument_doubt"] == "AIT-131.drift.2026-11-04"
    assert rows["IFE-123"]["instrument_doubt"] == ""
