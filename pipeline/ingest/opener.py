"""Opener: what is packed is unpacked: a gzip file, every member of a zip, every sheet of a workbook."""

import csv
import io
import re
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import polars as pl

from pipeline.errors import Fault, RefusedError
from pipeline.ingest.orders import turned_round

GZIP = b"\x1f\x8b"
ZIP = b"PK\x03\x04"
_EMPTY_ZIP = b"PK\x05\x06"
_LARGEST_BYTES = 4 * 2**30
_DEPTH = 3
"""How deep archives within archives are opened."""
_NO_EXPORT = re.compile(r"(?:^|/)(?:__MACOSX/|\.|~\$|thumbs\.db$|desktop\.ini$)", re.IGNORECASE)
_BEGINS_LIKE_A_DATE = re.compile(r"\d{1,4}[-/.]\d{1,2}[-/.]\d")
_NUMBER = re.compile(r"[+-]?\d+\.\d+(?:[eE][+-]?\d+)?")
_DAY_ZERO = re.compile(r"(?:1899-12-31|1899-12-30|1900-01-00) (\d\d:\d\d:\d\d(?:\.\d+)?)")
"""How a workbook's clock without a date comes out: a spreadsheet counts days from there."""


@dataclass(frozen=True)
class Member:
    """One export: a file, or a part of one that is an export of its own.

    Parameters
    ----------
    name : str
        As people find it: ``week.zip/north.csv``, ``book.xlsx/Sheet1``.
    data : bytes
        Its content, not packed; empty where `fault` says why there is none.
    fault : Fault or None
        Why this member cannot be read; the others can.
    """

    name: str
    data: bytes = b""
    fault: Fault | None = None


def is_container(start: bytes) -> bool:
    """Tell from a file's first bytes whether it has to be opened."""
    return start.startswith((GZIP, ZIP, _EMPTY_ZIP))


def opened(data: bytes, name: str, mark: str = ".") -> list[Member]:
    """Return every export that a file holds; a file that is not packed is its own only member.

    Parameters
    ----------
    data : bytes
        The whole file.
    name : str
        The file, as people know it.
    mark : {".", ","}
        The decimal mark that the file's text is going to be read with: a workbook's numbers are written so.

    Raises
    ------
    RefusedError
        The file is packed and cannot be opened, or holds nothing.
    """
    members = list(_members(data, name, mark, _DEPTH))
    if not members:
        raise RefusedError(name, "the archive holds no file", "pack it again; nothing was read from it")
    if len(members) == 1 and members[0].fault is not None:
        fault = members[0].fault
        raise RefusedError(fault.file, fault.problem, fault.remedy)
    return members


def _members(data: bytes, name: str, mark: str, depth: int) -> Iterator[Member]:
    if not is_container(data[:4]):
        yield Member(name, data)
        return
    try:
        if depth == 0:
            raise RefusedError(name, "this is an archive within archives", "unpack it first")
        if data.startswith(GZIP):
            yield from _members(_gunzipped(data, name), name, mark, depth - 1)
        else:
            yield from _zipped(data, name, mark, depth)
    except RefusedError as error:
        yield Member(name, fault=error.fault)


def _gunzipped(data: bytes, name: str) -> bytes:
    """Unpack every stream of a gzip file: recorders append to it."""
    unpacked = io.BytesIO()
    rest = data
    try:
        while rest.startswith(GZIP):
            stream = zlib.decompressobj(wbits=31)
            unpacked.write(stream.decompress(rest, _LARGEST_BYTES - unpacked.tell()))
            if not stream.eof:
                raise RefusedError(name, _cut_off(stream), "copy it again; nothing was read from it")
            rest = stream.unused_data
    except zlib.error as error:
        problem = f"the gzip file is damaged ({error})"
        raise RefusedError(name, problem, "copy it again; nothing was read from it") from error
    return unpacked.getvalue()


def _cut_off(stream: Any) -> str:
    return "the gzip file holds more than 4 GiB" if stream.unconsumed_tail else "the gzip file is cut off"


def _zipped(data: bytes, name: str, mark: str, depth: int) -> Iterator[Member]:
    try:
        archive = zipfile.ZipFile(io.BytesIO(data))
    except (zipfile.BadZipFile, ValueError, OSError, NotImplementedError) as error:
        problem = f"the zip archive is damaged ({error})"
        raise RefusedError(name, problem, "copy it again; nothing was read from it") from error
    names = archive.namelist()
    if "[Content_Types].xml" in names or "mimetype" in names:
        yield from _sheets(data, name, names, mark)
        return
    for info in archive.infolist():
        # A damaged archive may hold a member without a name, which `is_dir` cannot bear.
        if info.filename.endswith("/") or _NO_EXPORT.search(info.filename):
            continue
        inside = f"{name}/{info.filename}"
        try:
            content = _content(archive, info, inside)
        except RefusedError as error:
            yield Member(inside, fault=error.fault)
            continue
        yield from _members(content, inside, mark, depth - 1)


def _content(archive: zipfile.ZipFile, info: zipfile.ZipInfo, name: str) -> bytes:
    if info.flag_bits & 1:
        raise RefusedError(name, "it is locked with a password", "pack it without one")
    if info.file_size > _LARGEST_BYTES:
        raise RefusedError(name, "it holds more than 4 GiB", "export a shorter time at once")
    try:
        with archive.open(info) as stream:
            return stream.read(info.file_size + 1)
    except Exception as error:  # damage shows in many ways: CRC, zlib, struct, end of file, unknown methods
        problem = f"it cannot be unpacked ({str(error) or type(error).__name__})"
        raise RefusedError(name, problem, "pack it again; the other members were read") from error


def _sheets(data: bytes, name: str, names: list[str], mark: str) -> Iterator[Member]:
    """Return every sheet of a workbook that holds anything, as CSV text."""
    if "xl/workbook.xml" not in names:
        remedy = "open it and save the sheet as a workbook (.xlsx) or as CSV UTF-8"
        raise RefusedError(name, "this is an office document, not a workbook that we read", remedy)
    book = _workbook(data, name)
    for sheet in book.sheet_names:
        inside = f"{name}/{sheet}"
        try:
            loaded = book.load_sheet(sheet, header_row=None, skip_rows=0, dtypes="string")
            content = _as_csv(loaded, inside, mark)
        except RefusedError as error:
            yield Member(inside, fault=error.fault)
            continue
        except Exception as error:  # whatever a damaged part of a workbook makes its reader say
            problem = f"the sheet cannot be read ({str(error).splitlines()[0] if str(error) else 'damaged'})"
            yield Member(inside, fault=Fault(inside, None, None, problem, "open it and save it again"))
            continue
        if content and loaded.visible != "visible":
            problem = "the sheet is hidden, and nobody who looks at the workbook would see its readings"
            yield Member(inside, fault=Fault(inside, None, None, problem, "show it or delete it"))
        elif content:
            yield Member(inside, content)


def _workbook(data: bytes, name: str) -> Any:
    try:
        from fastexcel import read_excel
    except ImportError as error:
        remedy = "install it with `pip install 'stillwell[excel]'`, or save the sheet as CSV UTF-8"
        raise RefusedError(
            name, "this is a workbook, and the package that reads them is missing", remedy
        ) from error
    try:
        return read_excel(data)
    except Exception as error:
        problem = (
            f"the workbook is damaged ({str(error).splitlines()[0] if str(error) else 'no reason given'})"
        )
        raise RefusedError(name, problem, "open it and save it again") from error


def _as_csv(sheet: Any, name: str, mark: str) -> bytes:
    """Write a sheet as CSV: one line a row of the sheet, dates in ISO 8601, errors as they show in a cell."""
    batch, errors = sheet.to_arrow_with_errors()
    if batch.num_columns == 0 or batch.num_rows == 0:
        return b""
    columns = [column.to_pylist() for column in batch.columns]
    for error in errors.errors if errors else ():
        row, column = error.position
        columns[column][row] = "#N/A"
    _refuse_turned(columns, name)
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerows([_cell(cell, mark) for cell in row] for row in zip(*columns, strict=True))
    return text.getvalue().encode()


def _refuse_turned(columns: list[list[str | None]], name: str) -> None:
    """Refuse a sheet of whose dates a spreadsheet has turned some round, and could not read the others."""
    for column in columns:
        dates = pl.Series(
            [text for text in column if text and _BEGINS_LIKE_A_DATE.match(text)], dtype=pl.String
        )
        if turned := turned_round(dates):
            problem = (
                f"{turned} and others are dates, the rest is text: a spreadsheet turned day and month round"
            )
            raise RefusedError(
                name, problem, "export it again, and open the recorder's CSV in no spreadsheet"
            )


def _cell(text: str | None, mark: str) -> str:
    """Return a cell on one line; a clock without a date loses the day that a spreadsheet counts from.

    The reader of workbooks gives a number with a point, whatever the spreadsheet shows.
    """
    if mark != "." and text and _NUMBER.fullmatch(text):
        return text.replace(".", mark)
    one_line = " ".join((text or "").split()) if text and ("\n" in text or "\r" in text) else text or ""
    clock = _DAY_ZERO.fullmatch(one_line)
    return clock[1] if clock else one_line
