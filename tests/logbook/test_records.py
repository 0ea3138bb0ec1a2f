"""Records and pages: no line of a table is lost to the one before, and no file to its name."""

from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from pipeline.config.load import Plant
from pipeline.logbook import lab
from pipeline.logbook.book import read_logbook

DENVER = ZoneInfo("America/Denver")
HEAD = "tag,time,value,unit,note\n"
ONE = "AIT-2,2026-11-09 07:30,1.02,mg/L,"
TWO = "AIT-2,2026-11-10 07:30,1.03,mg/L,ok\n"
THREE = "AIT-2,2026-11-11 07:30,1.04,mg/L,ok\n"


def _read(plant: Plant, content: bytes | str, name: str = "lab.csv") -> tuple[list[float], list[str]]:
    folder = plant.folder / "lab"
    folder.mkdir(exist_ok=True)
    (folder / name).write_bytes(content if isinstance(content, bytes) else content.encode())
    frame, faults = lab.read(folder, DENVER, plant.tags)
    return frame["value"].to_list(), [str(fault) for fault in faults]


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_a_quote_that_is_never_closed_costs_its_line_alone(plant: Plant, end: str) -> None:
    """RFC 4180 lets a quoted cell go on for lines; nobody means it to hold the next results."""
    text = HEAD + ONE + '"12 inch main\n' + TWO + THREE
    values, (fault,) = _read(plant, text.replace("\n", end))
    assert values == [1.03, 1.04]
    assert fault.startswith("lab/lab.csv, row 2: a quote is opened and not closed on this line")


def test_one_that_a_later_line_happens_to_close_as_well(plant: Plant) -> None:
    later = 'AIT-2,2026-11-11 07:30,1.04,mg/L,6" main\n'
    values, faults = _read(plant, HEAD + ONE + '"12 inch main\n' + TWO + later)
    assert (values, len(faults)) == ([1.03, 1.04], 1)


@pytest.mark.parametrize(
    "note",
    [
        '"two\nlines"',
        '"rinsed, refilled,\nread again, 2026-11-09, twice"',
        '"a ""b"" c\n\nd"',
        '12" main',
        "x",
    ],
)
def test_a_note_may_go_on_for_several_lines(plant: Plant, note: str) -> None:
    assert _read(plant, HEAD + ONE + note + "\n" + TWO) == ([1.02, 1.03], [])


def test_a_cell_too_long_costs_its_line(plant: Plant) -> None:
    values, (fault,) = _read(plant, HEAD + ONE + "x" * 200_000 + "\n" + TWO)
    assert values == [1.03]
    assert "row 2: the line cannot be cut into cells" in fault


def test_what_a_spreadsheet_saves_as_unicode_text(plant: Plant) -> None:
    assert _read(plant, (HEAD + ONE + "\n" + TWO).encode("utf-16")) == ([1.02, 1.03], [])


def test_zeros_that_a_disk_left_are_no_line(plant: Plant) -> None:
    assert _read(plant, (HEAD + TWO).encode() + bytes(64)) == ([1.03], [])


def test_names_in_great_letters_are_read(plant: Plant) -> None:
    assert _read(plant, HEAD + TWO, "LAB.CSV") == ([1.03], [])


def test_a_workbook_is_told_unless_its_sheet_is_saved_beside_it(plant: Plant) -> None:
    values, (fault,) = _read(plant, b"PK\x03\x04", "week.xlsx")
    assert values == [] and "lab/week.xlsx: this is a workbook" in fault and "week.csv" in fault
    assert _read(plant, HEAD + TWO, "week.csv") == ([1.03], [])


def test_the_logbook_s_tables_are_found_and_told_alike(plant: Plant) -> None:
    folder: Path = plant.folder / plant.file.exports.logbook
    folder.mkdir(parents=True, exist_ok=True)
    text = "subject,start,end\nclearwell,2026-11-09 07:30,2026-11-09 08:30\n"
    (folder / "Maintenance.CSV").write_text(text)
    (folder / "Verdicts.xlsx").write_bytes(b"PK\x03\x04")
    (folder / "procedures.xlsx").write_bytes(b"PK\x03\x04")
    book, faults = read_logbook(plant)
    assert book.maintenance.height == 1
    assert [fault.file.rpartition("/")[2] for fault in faults] == ["Verdicts.xlsx"]


def test_a_digit_group_of_programs_is_no_number(plant: Plant) -> None:
    values, (fault,) = _read(plant, HEAD + ONE.replace("1.02", "1_02") + "\n")
    assert values == [] and "'1_02' is not a number" in fault
