"""Bytes to text to one layout: encodings, and a clear sentence for what cannot be read."""

import gzip
import io
import zipfile
from types import SimpleNamespace

import pytest

import pipeline.ingest.identify as identify_module
from pipeline.config.load import Plant
from pipeline.errors import RefusedError
from pipeline.ingest.export import read_export
from pipeline.ingest.identify import identify, to_utf8

TEXT = "Time,Tür µS\n2026-01-05 00:00,1\n"


def _zip() -> bytes:
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w") as archive:
        archive.writestr("xl/workbook.xml", "")
    return target.getvalue()


# Byte-order marks: Unicode Standard, section 23.8 (EF BB BF, FF FE, FE FF). µ is B5 in windows-1252.
@pytest.mark.parametrize(
    "data",
    [
        TEXT.encode("utf-8"),
        b"\xef\xbb\xbf" + TEXT.encode("utf-8"),
        b"\xff\xfe" + TEXT.encode("utf-16-le"),
        b"\xfe\xff" + TEXT.encode("utf-16-be"),
        TEXT.encode("cp1252"),
        TEXT.replace("\n", "\r").encode("utf-8"),
    ],
)
def test_the_same_text_in_every_encoding(data: bytes) -> None:
    assert to_utf8(data, "x", "cp1252").decode() == TEXT


def test_the_encoding_is_the_plants_own() -> None:
    # 0x8A is Š in windows-1252 and ä in Mac Roman (both mapping tables at unicode.org).
    assert to_utf8(b"\x8a", "x", "cp1252").decode() == "Š"
    assert to_utf8(b"\x8a", "x", "mac-roman").decode() == "ä"


def test_bytes_outside_the_encoding_are_refused_with_the_setting_to_change() -> None:
    # 0x81 is not assigned in windows-1252.
    with pytest.raises(RefusedError, match=r"neither UTF-8 nor cp1252.*\[reading\] encoding"):
        to_utf8(b"Time,\x81\n", "x", "cp1252")


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (b"", "the file is empty"),
        (b"\xef\xbb\xbf\r\n\r\n", "the file is empty"),
        (b",,,\n", "the file is empty"),
        (b"\x00" * 512, "nothing but NUL"),
        (bytes(range(256)) * 4, "binary file"),
        (_zip(), "Excel workbook or a zip"),
        (gzip.compress(b"Time,A\n", mtime=0), "gzip"),
        (b"%PDF-1.7\n", "PDF"),
        (b"Time,AIT-2\n", "a header and no readings"),
        (b"Time,AIT-2\n\n\r\n,\n", "a header and no readings"),
        (b"Time,AIT-2\n2026-01-05 00:00,\n", "a header and no readings"),
        (
            b"What is this\nNobody knows\n",
            "no layout we know fits this file; its first line is: What is this",
        ),
        (b"2026-01-05 00:00,1.0\n", "no layout we know fits this file"),
        (b"Tag,Value\nAIT-2,1.0\n", "no layout we know fits this file"),
    ],
)
def test_what_is_not_an_export_is_refused_in_one_sentence(data: bytes, sentence: str, plant: Plant) -> None:
    with pytest.raises(RefusedError) as refused:
        read_export(data, "trends/x.csv", "s", plant)
    assert sentence in refused.value.fault.problem
    assert refused.value.fault.file == "trends/x.csv"
    assert refused.value.fault.remedy


@pytest.mark.parametrize("mark", [",", ";", "\t", "|"])
def test_delimiters(mark: str, plant: Plant) -> None:
    data = "Time,AIT-2,YS-1\n2026-01-05 00:00,1.5,On\n".replace(",", mark).encode()
    assert read_export(data, "x", "s", plant).readings["value"].to_list() == [1.5, 1.0]


def test_semicolons_with_decimal_commas(make_plant) -> None:  # type: ignore[no-untyped-def]
    plant = make_plant(reading='decimal_mark = ","')
    data = b"Time;AIT-2;FIT-2\n2026-01-05 00:00;1,5;1.388,8\n2026-01-05 00:15;1,5;1,0\n"
    values = read_export(data, "x", "s", plant).readings["value"].round(3).to_list()
    assert values == [1.5, 1.5, 2.0, 0.001]  # 694.4 gpm are 1 MGD


def test_two_layouts_that_fit_are_one_too_many(monkeypatch: pytest.MonkeyPatch) -> None:
    yes = SimpleNamespace(recognises=lambda head: True)
    monkeypatch.setattr(identify_module, "LAYOUTS", {"one": yes, "two": yes})
    with pytest.raises(RefusedError, match=r"more than one layout fits this file \(one, two\)"):
        identify(b"Time,A\n1,2\n", "x", "cp1252")


def test_a_header_of_times_alone_is_no_table(plant: Plant) -> None:
    """A header that was broken in two: its other half would be lost, for there is no column to read it in."""
    text = b"Date,Hour\r\nEnding,AIT-2\n01/13/2026,1,1.02\n01/13/2026,14,1.03\n"
    with pytest.raises(RefusedError, match="its first line is: Date, Hour"):
        read_export(text, "broken.csv", "0" * 12, plant)
