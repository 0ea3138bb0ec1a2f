"""Lines: a table that people keep by hand, read line by line, with a fault for each that is wrong."""

from codecs import BOM_UTF16_BE, BOM_UTF16_LE
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, tzinfo
from pathlib import Path

import polars as pl

from pipeline.config.dialect import BOTH_WAYS, Dialect, dialect_of
from pipeline.errors import Fault
from pipeline.logbook.moments import Order, moment
from pipeline.logbook.records import UnclosedError, records
from pipeline.table import Schema

TIME_REMEDY = "write it as 2026-11-09 07:30, in the plant's wall clock"


class UnreadableError(Exception):
    """A cell that cannot be understood; becomes a fault of its line."""

    def __init__(self, column: str | None, problem: str, remedy: str) -> None:
        super().__init__(problem)
        self.column, self.problem, self.remedy = column, problem, remedy


@dataclass(frozen=True)
class Line:
    """One line: its cells by column, trimmed, blank where the file has none of it; and where it stands."""

    cells: Mapping[str, str]
    zone: tzinfo
    order: Order | None
    file: str
    row: int
    dialect: Dialect

    def text(self, column: str) -> str:
        """Return the cell."""
        return self.cells.get(column, "")

    def needed(self, column: str) -> str:
        """Return the cell, which must not be blank."""
        text = self.text(column)
        if not text:
            raise UnreadableError(column, "the cell is blank", "fill it in")
        return text

    def one_of(self, column: str, words: Iterable[str]) -> str:
        """Return the cell in lower case, which must be one of `words`."""
        text = self.needed(column).lower()
        known = list(words)
        if text not in known:
            raise UnreadableError(
                column, f"{self.text(column)!r} is not one of them", f"use {', '.join(known)}"
            )
        return text

    def number(self, column: str) -> float | None:
        """Return the cell as a number; None where it is blank."""
        text = self.text(column)
        if not text:
            return None
        try:
            text = self.dialect.plain(text)
        except ValueError as error:
            raise UnreadableError(column, str(error), BOTH_WAYS) from None
        try:
            value = float(text if "_" not in text else "nan")
        except ValueError:
            value = float("nan")
        if not abs(value) < float("inf"):
            raise UnreadableError(column, f"{text!r} is not a number", "write a plain number such as 0.85")
        return value

    def time(self, column: str) -> datetime:
        """Return the cell as an instant [UTC]."""
        try:
            return moment(self.needed(column), self.zone, self.order)
        except ValueError as error:
            raise UnreadableError(column, str(error), TIME_REMEDY) from None


def read_table(
    paths: Iterable[Path],
    schema: Schema,
    needed: Iterable[str],
    row: Callable[[Line], Mapping[str, object] | None],
    zone: tzinfo,
    order: Order | None,
) -> tuple[pl.DataFrame, list[Fault]]:
    """Read tables of one kind.

    Parameters
    ----------
    paths : iterable of Path
        CSV files with a header; those that do not exist are left out.
    schema : Schema
        Columns of the result.
    needed : iterable of str
        Columns that the header must have; others may be missing, and more may be there.
    row : callable
        Makes a row of `schema` of a `Line`, or raises `UnreadableError`; None leaves the line out.
    zone, order
        How times are to be read.

    Returns
    -------
    frame : DataFrame of `schema`
        In the order of the files.
    faults : list of Fault
        The lines left out.
    """
    rows: list[Mapping[str, object]] = []
    faults: list[Fault] = []
    for path in filter(Path.exists, paths):
        file = f"{path.parent.name}/{path.name}"
        text = _text(path)
        dialect = dialect_of(text)
        lines, problems = _lines(text, dialect.separator, file, list(needed))
        faults += problems
        for number, cells in lines:
            try:
                made = row(Line(cells, zone, order, file, number, dialect))
                rows += [] if made is None else [made]
            except UnreadableError as wrong:
                faults.append(Fault(file, number, wrong.column, wrong.problem, wrong.remedy))
    return pl.DataFrame(rows, schema=schema, orient="row"), faults


def _lines(
    text: str, separator: str, file: str, needed: list[str]
) -> tuple[list[tuple[int, dict[str, str]]], list[Fault]]:
    """Return each line that is not blank, with its number and trimmed cells."""
    found = records(text, separator, needed)
    first = next(found, (1, list[str]()))[1]
    header = [] if isinstance(first, UnclosedError) else [cell.strip().lower() for cell in first]
    missing = [name for name in needed if name not in header]
    if missing:
        remedy = "add it to the header and fill it in"
        return [], [Fault(file, 1, name, "the column is missing", remedy) for name in missing]
    lines: list[tuple[int, dict[str, str]]] = []
    faults: list[Fault] = []
    for number, cells in found:
        if isinstance(cells, UnclosedError):
            faults.append(Fault(file, number, None, str(cells), "correct this line; the others are read"))
            continue
        trimmed = [cell.strip() for cell in cells]
        if not any(trimmed):
            continue
        if any(trimmed[len(header) :]):
            remedy = f"put quotes around a cell with {separator!r} in it"
            faults.append(Fault(file, number, None, "the line is longer than the header", remedy))
            continue
        lines.append((number, dict(zip(header, trimmed, strict=False))))
    return lines, faults


def _text(path: Path) -> str:
    """Read UTF-8, UTF-16 with its mark, or what a spreadsheet saves; NUL is what a disk left, and no text."""
    content = path.read_bytes()
    encoding = "utf-16" if content.startswith((BOM_UTF16_LE, BOM_UTF16_BE)) else "utf-8-sig"
    try:
        text = content.decode(encoding)
    except UnicodeDecodeError:
        text = content.decode("cp1252", errors="replace")
    return text.replace("\0", "")
