"""Field sheets that come back: one line is a service and, where it has an answer, a verdict."""

from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import polars as pl
import pytest

from pipeline.logbook import calibrations, verdicts
from pipeline.report.tables import tables
from tests.report.weeks import full_week

DENVER = ZoneInfo("America/Denver")
HEADER = (
    "instrument,place,finding_id,time,kind,as_found,reference,cleaned,reference_after,as_left,"
    "by,verdict,note\n"
)
DONE = (
    "AE-1,gallery,AIT-1.drift.2026-11-03,2026-11-17 09:40,calibration,"
    "0.91,1.12,0.98,1.10,1.10,rl,confirmed,\n"
)
STILL_TO_DO = "AE-2,panel,AIT-2.frozen.2026-11-12,,calibration,,,,,,,,\n"
NO_TIME = "AE-2,panel,AIT-2.frozen.2026-11-12,,check,1.4,,,,,rl,,\n"
ONLY_ANSWERED = "AE-2,panel,AIT-2.frozen.2026-11-12,,,,,,,,rl,process,pump was off\n"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "book").mkdir()
    return tmp_path / "book"


def _read(folder: Path) -> tuple[pl.DataFrame, pl.DataFrame, list[tuple[str, int | None, str | None]]]:
    services, faults = calibrations.read(folder, DENVER, {"AE-1", "AE-2"})
    words, more = verdicts.read(folder, DENVER)
    return services, words, [(fault.file, fault.row, fault.column) for fault in [*faults, *more]]


def test_a_filled_line_is_a_service_and_a_verdict(folder: Path) -> None:
    (folder / "field-sheet-2026-W46.csv").write_text(HEADER + DONE + STILL_TO_DO)
    services, words, faults = _read(folder)
    assert faults == []
    (row,) = services.rows(named=True)
    # Denver is at UTC-7 in November (tz database).
    assert row["time"] == datetime(2026, 11, 17, 16, 40, tzinfo=UTC)
    numbers = [row[name] for name in ("as_found", "reference", "cleaned", "reference_after", "as_left")]
    assert numbers == [0.91, 1.12, 0.98, 1.10, 1.10]
    assert words.select("finding_id", "verdict", "by").rows() == [
        ("AIT-1.drift.2026-11-03", "confirmed", "rl")
    ]


def test_a_line_still_to_be_done_is_no_fault_and_a_number_without_a_time_is(folder: Path) -> None:
    (folder / "field-sheet.csv").write_text(HEADER + STILL_TO_DO + NO_TIME)
    services, words, faults = _read(folder)
    assert services.is_empty()
    assert words.is_empty()
    assert faults == [("book/field-sheet.csv", 3, "time")]


def test_an_answer_alone_is_a_verdict(folder: Path) -> None:
    (folder / "field-sheet.csv").write_text(HEADER + ONLY_ANSWERED)
    services, words, faults = _read(folder)
    assert (services.height, faults) == (0, [])
    assert words["verdict"].to_list() == ["process"]


def test_typed_into_the_log_as_well_it_counts_once(folder: Path) -> None:
    (folder / "field-sheet.csv").write_text(HEADER + DONE)
    (folder / "calibrations.csv").write_text(
        "instrument,time,kind,as_found,cleaned,as_left,reference,reference_after,by,note\n"
        "AE-1,2026-11-17T09:40,calibration,0.91,0.98,1.10,1.12,1.10,rl,\n"
        "AE-1,2026-10-01T10:00,cleaning,,,,,,,\n"
    )
    services, _, faults = _read(folder)
    assert faults == []
    assert services["kind"].to_list() == ["cleaning", "calibration"]


def test_a_log_without_the_new_columns_is_read_as_before(folder: Path) -> None:
    (folder / "calibrations.csv").write_text(
        "instrument,time,kind,as_found,as_left,reference,by,note\n"
        "AE-1,2026-11-09 10:00,calibration,1.1,1.0,1.0,rl,\n"
    )
    services, _, faults = _read(folder)
    assert faults == []
    assert services.select("as_found", "cleaned", "reference_after").rows() == [(1.1, None, None)]


def test_the_sheet_that_a_report_writes_is_read_and_says_nothing_until_filled(folder: Path) -> None:
    text = tables(full_week())["field-sheet.csv"]
    (folder / "field-sheet-2026-W46.csv").write_text(text)
    services, faults = calibrations.read(folder, DENVER, full_week().plant.instruments)
    assert (services.height, faults) == (0, [])
    filled = text.replace("AIT-131.drift.2026-11-04,,", "AIT-131.drift.2026-11-04,2026-11-17 09:40,", 1)
    (folder / "field-sheet-2026-W46.csv").write_text(filled)
    services, faults = calibrations.read(folder, DENVER, full_week().plant.instruments)
    assert (services["instrument"].to_list(), faults) == (["AE-131"], [])
