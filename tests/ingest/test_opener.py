"""What is packed comes out as exports of their own; what cannot be opened costs itself alone."""

import builtins
import gzip
import io
import zipfile
from datetime import date, datetime
from datetime import time as clock
from pathlib import Path
from typing import Any

import pytest

from pipeline.errors import RefusedError
from pipeline.ingest.formats import shown_by
from pipeline.ingest.opener import is_container, opened

CSV = b"Time,AIT-2\n2026-01-05 00:00,1.02\n"
CORPUS = Path(__file__).parent / "corpus"


def _zip(members: dict[str, bytes]) -> bytes:
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in members.items():
            archive.writestr(name, data)
    return target.getvalue()


def _book(**sheets: list[list[Any]]) -> bytes:
    from openpyxl import Workbook

    book = Workbook()
    book.remove(book.active)
    for title, rows in sheets.items():
        sheet = book.create_sheet(title)
        for row in rows:
            sheet.append(row)
    target = io.BytesIO()
    book.save(target)
    return target.getvalue()


def _contents(data: bytes, name: str) -> dict[str, bytes]:
    return {member.name: member.data for member in opened(data, name)}


def test_a_file_that_is_not_packed_is_itself() -> None:
    assert _contents(CSV, "a.csv") == {"a.csv": CSV}
    assert not is_container(CSV)


def test_gzip_and_gzip_appended_to() -> None:
    # RFC 1952, 2.2: a file is a series of members, one after the other.
    assert _contents(gzip.compress(CSV), "a.csv.gz") == {"a.csv.gz": CSV}
    assert _contents(gzip.compress(CSV) + gzip.compress(b"more\n"), "a.gz") == {"a.gz": CSV + b"more\n"}


def test_every_member_of_a_zip_is_a_delivery_of_its_own() -> None:
    data = _zip(
        {"north/a.csv": CSV, "north/": b"", "__MACOSX/north/._a.csv": b"x", "b.csv.gz": gzip.compress(CSV)}
    )
    assert _contents(data, "week.zip") == {"week.zip/north/a.csv": CSV, "week.zip/b.csv.gz": CSV}


def test_a_damaged_member_costs_itself_alone() -> None:
    data = bytearray(_zip({"a.csv": CSV, "b.csv": CSV * 3}))
    place = data.find(b"b.csv") + len("b.csv") + 3
    data[place] ^= 0xFF
    first, second = opened(bytes(data), "week.zip")
    assert (first.name, first.data, first.fault) == ("week.zip/a.csv", CSV, None)
    assert second.name == "week.zip/b.csv"
    assert second.fault is not None and "cannot be unpacked" in second.fault.problem


def test_a_member_that_lost_its_name_costs_itself_alone() -> None:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        archive.writestr("a.csv", CSV)
        archive.writestr("b.csv", CSV)
        archive.infolist()[0].filename = ""
    lost, kept = opened(packed.getvalue(), "week.zip")
    assert (lost.fault is not None, kept.name) == (True, "week.zip/b.csv")


def test_a_locked_member_says_so() -> None:
    data = bytearray(_zip({"a.csv": CSV, "b.csv": CSV}))
    # APPNOTE.TXT 4.4.4: bit 0 of the flags, at offset 8 of the central header and 6 of the local one.
    data[data.find(b"PK\x03\x04") + 6] |= 1
    data[data.find(b"PK\x01\x02") + 8] |= 1
    fault = opened(bytes(data), "week.zip")[0].fault
    assert fault is not None and "password" in fault.problem


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (gzip.compress(CSV, mtime=0)[:-12], "the gzip file is cut off"),
        (gzip.compress(CSV, mtime=0)[:12] + b"\xff\xff\xff", "the gzip file is"),
        (b"PK\x03\x04 and nothing else", "the zip archive is damaged"),
        (_zip({}), "the archive holds no file"),
        (
            _zip({"mimetype": b"application/vnd.oasis.opendocument.text", "content.xml": b""}),
            "an office document",
        ),
    ],
)
def test_what_cannot_be_opened_is_refused_in_one_sentence(data: bytes, sentence: str) -> None:
    with pytest.raises(RefusedError) as refused:
        opened(data, "x")
    assert sentence in refused.value.fault.problem
    assert refused.value.fault.remedy


def test_archives_within_archives_end() -> None:
    data = CSV
    for _ in range(5):
        data = gzip.compress(data)
    with pytest.raises(RefusedError, match="archive within archives"):
        opened(data, "x.gz")


def test_each_sheet_of_a_workbook_is_csv_with_the_lines_of_the_sheet() -> None:
    rows = [[], ["Time", "AIT-2"], [datetime(2026, 1, 5, 0, 15), 1.02], [None, "a, b\nc"]]
    data = _book(North=rows, Blank=[], Split=[["Date", "Time"], [date(2026, 1, 6), clock(14, 30)]])
    assert _contents(data, "book.xlsx") == {
        "book.xlsx/North": b'"",""\nTime,AIT-2\n2026-01-05 00:15:00,1.02\n,"a, b c"\n'.replace(
            b'"",""', b","
        ),
        "book.xlsx/Split": b"Date,Time\n2026-01-06 00:00:00,14:30:00\n",
    }


def test_a_hidden_sheet_is_refused() -> None:
    """Its readings would take the place of those that people see."""
    from openpyxl import load_workbook

    book = load_workbook(io.BytesIO(_book(North=[["Time", "AIT-1"]], Old=[["Time", "AIT-1"]])))
    book["Old"].sheet_state = "hidden"
    data = io.BytesIO()
    book.save(data)
    shown, old = opened(data.getvalue(), "book.xlsx")
    assert shown.data == b"Time,AIT-1\n"
    assert old.fault is not None and "hidden" in old.fault.problem


def test_a_sheet_whose_dates_were_turned_round_is_refused() -> None:
    """10 March became 3 October where the day stands first; 13 March could not be read and stayed text."""
    turned = [[datetime(2026, month, 3, 8), 1.0] for month in (10, 11, 12)]
    texts = [[f"03/{day}/2026 08:00", 1.0] for day in (13, 14)]
    with pytest.raises(RefusedError, match="a spreadsheet turned day and month round"):
        opened(_book(Trend=[["Time", "AIT-2"], *turned, *texts]), "book.xlsx")


def test_dates_in_cells_and_in_text_may_stand_together() -> None:
    cells = [[datetime(2026, 3, day, 8), 1.0] for day in (10, 11, 12)]
    texts = [[f"03/{day}/2026 08:00", 1.0] for day in (13, 14)]
    [sheet] = opened(_book(Trend=[["Time", "AIT-2"], *cells, *texts]), "book.xlsx")
    assert b"2026-03-10 08:00:00,1" in sheet.data
    assert b"03/13/2026 08:00,1" in sheet.data


def test_an_error_in_a_cell_is_no_blank_cell() -> None:
    data = (CORPUS / "book.xlsx").read_bytes()
    assert b"2026-01-05 00:15:00,<0.02,true,#N/A\n" in _contents(data, "book.xlsx")["book.xlsx/Clearwell"]


def test_without_the_reader_a_workbook_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    real = builtins.__import__

    def without(name: str, *rest: Any, **more: Any) -> Any:
        if name == "fastexcel":
            raise ImportError(name)
        return real(name, *rest, **more)

    monkeypatch.setattr(builtins, "__import__", without)
    with pytest.raises(RefusedError, match=r"the package that reads them is missing; .*stillwell\[excel\]"):
        opened((CORPUS / "book.xlsx").read_bytes(), "book.xlsx")


def test_a_workbook_s_numbers_are_numbers_whatever_the_plant_s_decimal_mark(make_plant: Any) -> None:
    """A spreadsheet keeps 1.532 as a binary number (ECMA-376 part 1, 18.3.1.96); 71,5 in it is text."""
    times = [datetime(2026, 1, 5, 0, minute) for minute in (0, 15, 30, 45)]
    book = _book(Trend=[["Time", "AIT-2"], *zip(times, (1.532, 12.671, "71,5", -0.5), strict=True)])
    [sheet] = opened(book, "book.xlsx", ",")
    assert [line.split(",", 1)[1].strip('"') for line in sheet.data.decode().splitlines()[1:]] == [
        "1,532", "12,671", "71,5", "-0,5",
    ]  # fmt: skip
    [same] = opened(book, "book.xlsx")
    assert b"1.532" in same.data and b'"71,5"' in same.data


@pytest.mark.parametrize(
    ("code", "number", "text"),
    [
        # ECMA-376 part 1, 18.8.31: a percent sign multiplies by 100, a comma behind the last digit divides
        # by 1000; what stands in quotes, behind a backslash or in brackets is only written.
        ("0%", "0.46", "46 %"),
        ("0.00%;[Red]-0.00%", "-0.0125", "-1.25 %"),
        ("0.0 %", "0.56999999999999995", "57 %"),
        ('0.0" %"', "46", None),
        (r"0.0\%", "46", None),
        ("General", "46", None),
        ("#,##0.00", "1500", None),
        ("#,##0.00,", "1500", "1500 (shown in thousands)"),
        ("0,,", "1500000", "1500000 (shown in thousands)"),
        ("yyyy-mm-dd hh:mm", "46000", None),
    ],
)
def test_a_number_is_read_as_its_format_shows_it(code: str, number: str, text: str | None) -> None:
    shown = shown_by(code)
    assert (shown.text(number) if shown else None) == text


def test_cells_are_found_wherever_the_sheet_begins() -> None:
    from openpyxl import Workbook

    book = Workbook()
    sheet = book.active
    for cell, content in {"C4": "Time", "D4": "ZIT-3", "C5": datetime(2026, 1, 5), "D5": 0.5}.items():
        sheet[cell] = content
    sheet["D5"].number_format = "0%"
    sheet["A1"].number_format = "0%"  # a format alone is no cell that anything stands in
    data = io.BytesIO()
    book.save(data)
    [only] = opened(data.getvalue(), "book.xlsx")
    assert only.data.splitlines()[-2:] == [b"Time,ZIT-3", b"2026-01-05 00:00:00,50 %"]


def test_percent_takes_the_plant_s_decimal_mark() -> None:
    from openpyxl import load_workbook

    book = load_workbook(io.BytesIO(_book(Trend=[["Time", "ZIT-3"], [datetime(2026, 1, 5), 0.575]])))
    book["Trend"]["B2"].number_format = "0.0%"
    data = io.BytesIO()
    book.save(data)
    [only] = opened(data.getvalue(), "book.xlsx", ",")
    assert only.data.splitlines()[-1] == b'2026-01-05 00:00:00,"57,5 %"'


def _book_from_1904(*rows: list[Any]) -> bytes:
    from openpyxl import Workbook
    from openpyxl.utils.datetime import CALENDAR_MAC_1904

    book = Workbook()
    book.epoch = CALENDAR_MAC_1904
    for row in rows:
        book.active.append(row)
    data = io.BytesIO()
    book.save(data)
    return data.getvalue()


def test_days_may_be_counted_from_1904() -> None:
    """ECMA-376 part 1, 18.17.4.1: day 0 is then 1 January 1904, and a clock alone lies on it."""
    rows = [["Date", "Time", "AIT-2"], [date(2026, 1, 6), clock(14, 30), 44567.5]]
    [sheet] = opened(_book_from_1904(*rows), "book.xlsx")
    assert sheet.data == b"Date,Time,AIT-2\n2026-01-06 00:00:00,14:30:00,44567.5\n"


def test_a_bare_number_for_a_time_beside_days_from_1904_is_refused() -> None:
    """46027 is 5 January 2026 counted from 1900, as a recorder's CSV has it, and in 2030 from 1904."""
    with pytest.raises(RefusedError, match=r"its times are numbers \(46027\.25\).* from 1904"):
        opened(_book_from_1904(["Time", "AIT-2"], [46027.25, 1.0]), "book.xlsx")


def test_formulas_that_nobody_reckoned_are_no_empty_cells() -> None:
    """A program writes a formula alone (ECMA-376 part 1, 18.3.1.40); a spreadsheet saves its result too."""
    data = _book(Trend=[["Time", "AIT-2"], ["2026-01-05 00:15", "=1+1"], ["2026-01-05 00:30", "=B2"]])
    with pytest.raises(RefusedError, match=r"its cell B2 holds a formula.*save it"):
        opened(data, "book.xlsx")
    parts = {}
    with zipfile.ZipFile(io.BytesIO(data)) as book:
        for part in book.namelist():
            parts[part] = book.read(part)
            for empty in (b"<v></v>", b"<v />", b"<v/>"):
                parts[part] = parts[part].replace(b"</f>" + empty, b"</f><v>2</v>")
    assert _contents(_zip(parts), "book.xlsx") == {
        "book.xlsx/Trend": b"Time,AIT-2\n2026-01-05 00:15,2\n2026-01-05 00:30,2\n"
    }
