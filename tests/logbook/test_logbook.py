"""What people wrote down: read line by line, each wrong line a fault with file, row and column."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import polars as pl
import pytest

from pipeline.config.load import Plant
from pipeline.config.tags import Tag
from pipeline.errors import Fault
from pipeline.logbook import calibrations, lab, maintenance, verdicts
from pipeline.logbook.moments import moment

DENVER = ZoneInfo("America/Denver")
Read = Callable[[str], tuple[pl.DataFrame, list[Fault]]]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "book").mkdir()
    return tmp_path / "book"


def _where(faults: list[Fault]) -> list[tuple[str, int | None, str | None]]:
    assert all(fault.problem and fault.remedy for fault in faults)
    return [(fault.file, fault.row, fault.column) for fault in faults]


@pytest.mark.parametrize(
    ("tag", "value", "unit", "kept"),
    [
        ("AIT-2", "0.9", "ppm", 0.9),  # a part in a million of water is a milligram in a litre
        ("AIT-2", "900", "ppb", 0.9),
        ("AIT-2", "0.9", "MG/L", 0.9),
        ("AIT-1", "0.05", "ntu", 0.05),
        ("TIT-2", "68", "deg F", 20.0),
        ("AIT-3", "7.2", "SU", 7.2),  # standard units of pH, as permits and bench sheets have them
        ("AIT-3", "7.2", "s.u.", 7.2),
    ],
)
def test_a_bench_may_write_units_as_exports_do(
    folder: Path, plant: Plant, tag: str, value: str, unit: str, kept: float
) -> None:
    tags = plant.tags | {"AIT-3": Tag(row=9, tag="AIT-3", area="filters", measures="ph", unit="SU")}
    (folder / "a.csv").write_text(f"tag,time,value,unit\n{tag},2026-11-09 07:30,{value},{unit}\n")
    frame, faults = lab.read(folder, plant.zone, tags)
    assert faults == []
    assert frame["value"].to_list() == [pytest.approx(kept)]
    assert frame["unit"].to_list() == [tags[tag].unit]


def test_a_result_that_can_be_read_both_ways_is_refused(folder: Path, plant: Plant) -> None:
    """A bench that parts thousands by a comma writes 1,388 uS/cm for what another writes as 1388."""
    rows = ["tag;time;value", "AIT-2;2026-11-09 07:30;1,388", "AIT-2;2026-11-10 07:30;2"]
    (folder / "a.csv").write_text("\n".join(rows) + "\n")
    frame, faults = lab.read(folder, plant.zone, plant.tags)
    assert frame["value"].to_list() == [2.0]
    assert _where(faults) == [("book/a.csv", 2, "value")]
    (folder / "a.csv").write_text("\n".join([*rows, "AIT-2;2026-11-11 07:30;<0,02"]) + "\n")
    assert lab.read(folder, plant.zone, plant.tags)[0]["value"].to_list() == [1.388, 2.0, 0.02]


@pytest.mark.parametrize("separator", [";", "\t"])
def test_a_table_that_a_spreadsheet_saved_with_decimal_commas(
    folder: Path, plant: Plant, separator: str
) -> None:
    """Where the comma is the decimal mark, a spreadsheet parts the cells of its CSV by semicolons."""
    rows = [
        ["tag", "time", "value", "unit", "note"],
        ["AIT-2", "2026-11-09 07:30", "0,93", "mg/L", "sunny, calm"],
        ["AIT-2", "2026-11-10 07:30", "<0,02", "mg/L", ""],
        ["AIT-2", "2026-11-11 07:30", "0.95", "mg/L", ""],
        ["AIT-2", "2026-11-12 07:30", "0,9,3", "mg/L", ""],
    ]
    (folder / "a.csv").write_text("\n".join(separator.join(cells) for cells in rows) + "\n")
    frame, faults = lab.read(folder, plant.zone, plant.tags)
    assert frame["value"].to_list() == [0.93, 0.02, 0.95]
    assert _where(faults) == [("book/a.csv", 5, "value")]
    (folder / "a.csv").write_text('tag,time,value\nAIT-2,2026-11-09 07:30,"0,93"\n')
    assert _where(lab.read(folder, plant.zone, plant.tags)[1]) == [("book/a.csv", 2, "value")]


def test_lab(folder: Path, plant: Plant) -> None:
    (folder / "b.csv").write_text("tag,time,value,unit,by\nTIT-2,2026-11-09 07:30,68,degF,op1\n")
    (folder / "a.csv").write_text(
        "tag,time,value,unit\n"
        "TIT-2,2026-11-10 07:30,20,\n"
        "AIT-9,2026-11-09 07:30,1,\n"
        "AIT-2,2026-11-09 07:30,one,\n"
        "AIT-2,2026-11-09,1,\n"
        "AIT-2,09.11.26,1,\n"
        "AIT-2,2026-11-09 07:30,1,NTU\n"
        "AIT-2,2026-11-09 07:30,,\n"
        "AIT-2,2026-11-09T07:30:00-05:00,1.1,mg/L\n"
        "AIT-2,2026-11-09 07:30,1,mg/L,more,and more\n"
        "\n"
    )
    frame, faults = lab.read(folder, plant.zone, plant.tags)
    assert frame.schema == pl.Schema(lab.SCHEMA)
    assert frame.select("tag", "time", pl.col("value").round(9), "unit").rows() == [
        ("AIT-2", datetime(2026, 11, 9, 12, 30, tzinfo=ZoneInfo("UTC")), 1.1, "mg/L"),
        ("TIT-2", datetime(2026, 11, 9, 14, 30, tzinfo=ZoneInfo("UTC")), 20.0, "degC"),  # 68 F is 20 C
        ("TIT-2", datetime(2026, 11, 10, 14, 30, tzinfo=ZoneInfo("UTC")), 20.0, "degC"),
    ]
    assert _where(faults) == [
        ("book/a.csv", 10, None),
        ("book/a.csv", 3, "tag"),
        ("book/a.csv", 4, "value"),
        ("book/a.csv", 5, "time"),
        ("book/a.csv", 6, "time"),
        ("book/a.csv", 7, "unit"),
        ("book/a.csv", 8, "value"),
    ]


def test_the_same_result_in_two_files_counts_once(folder: Path, plant: Plant) -> None:
    for name in ("a.csv", "b.csv"):
        (folder / name).write_text("tag,time,value\nAIT-2,2026-11-09 07:30,1.1\n")
    assert lab.read(folder, plant.zone, plant.tags)[0].height == 1


def test_calibrations(folder: Path) -> None:
    (folder / "calibrations.csv").write_text(
        "instrument,time,kind,as_found,as_left,reference,by,note\n"
        'AE-1,2026-11-09 10:00,Cleaning,1.1,1.0,1.0,tech1,"cell, wiped"\n'
        "AE-1,2026-10-01,,,,,,\n"
        "AE-9,2026-11-09 10:00,,,,,,\n"
        "AE-1,2026-11-09 10:00,fix,,,,,\n"
        "AE-1,2026-11-09 10:00,check,high,,,,\n"
        "AE-1,2026-03-08 02:30,check,,,,,\n"
    )
    frame, faults = calibrations.read(folder, DENVER, {"AE-1"})
    assert frame.schema == pl.Schema(calibrations.SCHEMA)
    assert frame["kind"].to_list() == ["calibration", "cleaning"]
    assert frame["note"].to_list() == ["", "cell, wiped"]
    assert frame["as_found"].to_list() == [None, 1.1]
    rows = [(row, column) for _, row, column in _where(faults)]
    assert rows == [(4, "instrument"), (5, "kind"), (6, "as_found"), (7, "time")]


def test_maintenance(folder: Path) -> None:
    (folder / "maintenance.csv").write_text(
        "subject,start,end,by,note\n"
        "filters,2026-11-01,2026-11-01,,\n"
        "AIT-1,2026-10-01 08:00,,,\n"
        "nobody,2026-10-01 08:00,,,\n"
        "AIT-1,2026-10-01 08:00,2026-10-01 07:00,,\n"
    )
    frame, faults = maintenance.read(folder, DENVER, {"filters", "AIT-1"})
    assert frame.schema == pl.Schema(maintenance.SCHEMA)
    assert frame["subject"].to_list() == ["AIT-1", "filters"]
    assert frame["end"][0] is None
    # 1 November 2026 has 25 hours in Denver (tz database).
    assert frame["end"][1] - frame["start"][1] == timedelta(hours=25)
    assert _where(faults) == [("book/maintenance.csv", 4, "subject"), ("book/maintenance.csv", 5, "end")]


def test_verdicts(folder: Path) -> None:
    (folder / "verdicts.csv").write_text(
        "finding_id,verdict,by,time,note\nAIT-1.drift.2026-11-01,Confirmed,,,\n,process,,,\nX,maybe,,,\nX,process,,soon,\n"
    )
    frame, faults = verdicts.read(folder, DENVER)
    assert frame.schema == pl.Schema(verdicts.SCHEMA)
    assert frame["verdict"].to_list() == ["confirmed"]
    assert [(row, column) for _, row, column in _where(faults)] == [
        (3, "finding_id"),
        (4, "verdict"),
        (5, "time"),
    ]


@pytest.mark.parametrize(
    "name", ["AIT-1.drift.2026-11-31", "AIT-1.drift", "AIT-1", "drift.2026-11-01", "AIT-1."]
)
def test_an_answer_to_a_finding_that_cannot_be_is_told(folder: Path, name: str) -> None:
    """README: a finding's id is tag.kind.day; an answer with a slip in it would settle nothing, silently."""
    (folder / "verdicts.csv").write_text(
        f"finding_id,verdict\n{name},dismissed\nA.B.drift.2026-11-30,process\n"
    )
    frame, faults = verdicts.read(folder, DENVER)
    assert frame["finding_id"].to_list() == ["A.B.drift.2026-11-30"]
    assert _where(faults) == [("book/verdicts.csv", 2, "finding_id")]


def test_nothing_written_down_is_no_fault(tmp_path: Path, plant: Plant) -> None:
    nowhere = tmp_path / "nowhere"
    for frame, faults in (
        lab.read(nowhere, DENVER, plant.tags),
        calibrations.read(nowhere, DENVER, plant.instruments),
        maintenance.read(nowhere, DENVER, []),
        verdicts.read(nowhere, DENVER),
    ):
        assert frame.is_empty()
        assert faults == []


def test_a_missing_column_is_named(folder: Path) -> None:
    (folder / "verdicts.csv").write_text("finding,verdict\nX,process\n")
    frame, faults = verdicts.read(folder, DENVER)
    assert frame.is_empty()
    assert _where(faults) == [("book/verdicts.csv", 1, "finding_id")]


def test_a_spreadsheet_saves_windows_text(folder: Path) -> None:
    (folder / "verdicts.csv").write_bytes(
        "finding_id,verdict,note\r\nX.drift.2026-11-01,process,5 °C\r\n".encode("cp1252")
    )
    assert verdicts.read(folder, DENVER)[0]["note"].to_list() == ["5 °C"]


@pytest.mark.parametrize(
    ("text", "hour"),
    [
        ("2026-11-01 00:59", 6),
        ("2026-11-01 01:30", 7),
        ("2026-11-01 01:30-07:00", 8),
        ("11/01/2026 1:30 AM", 7),
    ],
)
def test_wall_clock(text: str, hour: int) -> None:
    # tz database: on 1 November 2026 the hour from 01:00 comes twice in Denver, at 07Z and at 08Z.
    assert moment(text, DENVER, "month_first").replace(minute=0) == datetime(2026, 11, 1, hour, tzinfo=UTC)
