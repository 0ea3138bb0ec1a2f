"""Workbook: every sheet as CSV: dates in ISO 8601, errors as they show in a cell, percent as it is shown."""

import csv
import io
import re
from collections.abc import Iterator
from typing import Any

import polars as pl

from pipeline.errors import Fault, RefusedError
from pipeline.ingest.formats import Formats, formats_of
from pipeline.ingest.head import head_of
from pipeline.ingest.orders import turned_round

_BEGINS_LIKE_A_DATE = re.compile(r"\d{1,4}[-/.]\d{1,2}[-/.]\d")
_NUMBER = re.compile(r"([+-]?\d+)\.(\d+(?:[eE][+-]?\d+)?(?: %)?)")
_SERIAL_DAY = re.compile(r"[2-7]\d{4}(?:\.\d+)?")
_DAY_ZERO = re.compile(r"(?:1899-12-31|1899-12-30|1900-01-00|1904-01-01) (\d\d:\d\d:\d\d(?:\.\d+)?)")
"""How a workbook's clock without a date comes out: a spreadsheet counts days from there."""


def sheets_of(data: bytes, name: str, parts: list[str], mark: str) -> Iterator[tuple[str, bytes | Fault]]:
    """Yield every sheet of a workbook that holds anything, as CSV text, or why it cannot be read.

    Parameters
    ----------
    data : bytes
        The workbook.
    name : str
        As people know it.
    parts : list of str
        What is packed in it.
    mark : {".", ","}
        The decimal mark with which its numbers are written.

    Raises
    ------
    RefusedError
        It is none, or damaged.
    """
    if "xl/workbook.xml" not in parts:
        remedy = "open it and save the sheet as a workbook (.xlsx) or as CSV UTF-8"
        raise RefusedError(name, "this is an office document, not a workbook that we read", remedy)
    book, formats = _opened(data, name)
    for sheet in book.sheet_names:
        inside = f"{name}/{sheet}"
        try:
            loaded = book.load_sheet(sheet, header_row=None, skip_rows=0, dtypes="string")
            content = _as_csv(loaded, formats, inside, mark)
        except RefusedError as error:
            yield inside, error.fault
            continue
        except Exception as error:  # whatever a damaged part of a workbook makes its reader say
            problem = f"the sheet cannot be read ({_first_line(error, 'damaged')})"
            yield inside, Fault(inside, None, None, problem, "open it and save it again")
            continue
        if content and loaded.visible != "visible":
            problem = "the sheet is hidden, and nobody who looks at the workbook would see its readings"
            yield inside, Fault(inside, None, None, problem, "show it or delete it")
        elif content:
            yield inside, content


def _opened(data: bytes, name: str) -> tuple[Any, Formats]:
    try:
        from fastexcel import read_excel
    except ImportError as error:
        remedy = "install it with `pip install 'stillwell[excel]'`, or save the sheet as CSV UTF-8"
        raise RefusedError(
            name, "this is a workbook, and the package that reads them is missing", remedy
        ) from error
    try:
        return read_excel(data), formats_of(data)
    except Exception as error:  # as above
        problem = f"the workbook is damaged ({_first_line(error, 'no reason given')})"
        raise RefusedError(name, problem, "open it and save it again") from error


def _first_line(error: Exception, otherwise: str) -> str:
    return next(iter(str(error).splitlines()), otherwise)


def _as_csv(sheet: Any, formats: Formats, name: str, mark: str) -> bytes:
    """Write a sheet as CSV: one line a row of the sheet."""
    batch, errors = sheet.to_arrow_with_errors()
    if batch.num_columns == 0 or batch.num_rows == 0:
        return b""
    if place := formats.without_result(sheet.name):
        problem = f"its cell {place} holds a formula, and the workbook does not keep what comes of it"
        raise RefusedError(name, problem, "open it in a spreadsheet, which reckons, and save it")
    columns = [column.to_pylist() for column in batch.columns]
    for error in errors.errors if errors else ():
        row, column = error.position
        columns[column][row] = "#N/A"
    for row, column, number, shown in formats.shown(sheet.name):
        if float(columns[column][row]) != float(number):
            raise ValueError(f"row {row + 1} reads {columns[column][row]}, and holds {number}")
        columns[column][row] = shown.text(number)
    _refuse_turned(columns, name)
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerows([_cell(cell, mark) for cell in row] for row in zip(*columns, strict=True))
    if formats.from_1904:
        _refuse_numbers_for_times(text.getvalue(), columns, name)
    return text.getvalue().encode()


def _refuse_numbers_for_times(text: str, columns: list[list[str | None]], name: str) -> None:
    """Refuse bare numbers in a column of times: they may count from 1904, as the workbook does, or from 1900.

    A recorder's CSV that is opened in such a workbook keeps its numbers; of dates there is no doubt.
    """
    head = head_of(text)
    for place in {*head.when_columns, *head.pair_columns} & set(range(len(columns))):
        number = next((cell for cell in columns[place] if cell and _SERIAL_DAY.fullmatch(cell)), None)
        if number:
            problem = f"its times are numbers ({number}), and the workbook counts its days from 1904"
            remedy = (
                "show them as dates, see whether they are right, and save it; or export the recorder's CSV"
            )
            raise RefusedError(name, problem, remedy)


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
    if mark != "." and text and (number := _NUMBER.fullmatch(text)):
        return mark.join(number.groups())
    one_line = " ".join((text or "").split()) if text and ("\n" in text or "\r" in text) else text or ""
    clock = _DAY_ZERO.fullmatch(one_line)
    return clock[1] if clock else one_line
