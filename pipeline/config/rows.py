"""Rows: a config table read line by line into models, with every fault of every line kept."""

import csv
from io import StringIO
from pathlib import Path
from typing import TypeVar

from pydantic import BaseModel, ConfigDict, ValidationError

from pipeline.errors import Fault

Model = TypeVar("Model", bound="Row")


class Row(BaseModel):
    """One line of a config table; blank cells fall back to the default."""

    model_config = ConfigDict(extra="forbid", frozen=True, str_strip_whitespace=True)

    row: int
    """Line of the file, from 1."""


def read_rows(path: Path, model: type[Model], key: str) -> tuple[list[Model], list[Fault]]:
    """Read one config table.

    Parameters
    ----------
    path : Path
        CSV with a header; UTF-8 with or without a byte-order mark.
    model : type
        A `Row` whose fields are the columns that may stand in the file.
    key : str
        Column whose value must be unique.

    Returns
    -------
    rows : list of model
        The lines that are sound.
    faults : list of Fault
        What is wrong with the others.
    """
    file = f"config/{path.name}"
    try:
        text = path.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        remedy = "make it; the config of `stillwell demo DIR` shows how"
        return [], [Fault(file, None, None, "the file is missing", remedy)]
    except UnicodeDecodeError:
        return [], [Fault(file, None, None, "not UTF-8 text", "save it as CSV UTF-8")]
    # Only line ends end a line: `splitlines` would also stop at form feeds within a cell.
    reader = csv.DictReader(StringIO(text, newline=None), strict=False)
    faults = _unknown_columns(file, list(reader.fieldnames or []), model, key)
    if faults:
        return [], faults
    rows: list[Model] = []
    seen: dict[str, int] = {}
    for cells in reader:
        row, problems = _read_row(file, reader.line_num, cells, model)
        faults += problems
        if row is None:
            continue
        name = str(getattr(row, key))
        if name in seen:
            problem = f"{name!r} stands in row {seen[name]} already"
            faults.append(Fault(file, row.row, key, problem, "keep one of the two"))
            continue
        seen[name] = row.row
        rows.append(row)
    return rows, faults


def _unknown_columns(file: str, columns: list[str], model: type[Row], key: str) -> list[Fault]:
    known = [name for name in model.model_fields if name != "row"]
    faults = [
        Fault(file, 1, column or "(blank)", "is not a column we know", f"use some of: {', '.join(known)}")
        for column in columns
        if column not in known
    ]
    needed = [name for name in known if model.model_fields[name].is_required()]
    faults += [
        Fault(file, 1, name, "the column is missing", "add it to the header and fill it in")
        for name in dict.fromkeys([key, *needed])
        if name not in columns
    ]
    return faults


def _read_row(
    file: str, line: int, cells: dict[str, str | None], model: type[Model]
) -> tuple[Model | None, list[Fault]]:
    if None in cells or any(value is None for value in cells.values()):
        remedy = "give it as many cells as the header has; put quotes around a cell with a comma in it"
        return None, [Fault(file, line, None, "the row is longer or shorter than the header", remedy)]
    filled = {name: value for name, value in cells.items() if value and value.strip()}
    if not filled:
        return None, []
    try:
        return model.model_validate({**filled, "row": line}), []
    except ValidationError as error:
        return None, [_fault(file, line, problem) for problem in error.errors()]


def _fault(file: str, line: int, problem: object) -> Fault:
    assert isinstance(problem, dict)
    column = str(problem["loc"][0]) if problem["loc"] else None
    if problem["type"] == "missing":
        return Fault(file, line, column, "the cell is blank", "fill it in")
    message, _, remedy = str(problem["msg"]).removeprefix("Value error, ").partition("; ")
    given = problem.get("input")
    shown = f"{given!r}: {message}" if isinstance(given, str) and repr(given) not in message else message
    return Fault(file, line, column, shown, remedy or "correct the cell")
