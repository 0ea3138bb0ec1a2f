"""Rows: a config table read line by line into models, with every fault of every line kept."""

import csv
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from io import StringIO
from pathlib import Path
from typing import Any, Generic, TypeVar

from pydantic import BaseModel, ConfigDict, ValidationError

from pipeline.config.dialect import BOTH_WAYS, Dialect, dialect_of
from pipeline.config.plainly import plainly
from pipeline.errors import Fault

Model = TypeVar("Model", bound="Row")


class Row(BaseModel):
    """One line of a config table; blank cells fall back to the default."""

    model_config = ConfigDict(extra="forbid", frozen=True, str_strip_whitespace=True, allow_inf_nan=False)

    row: int
    """Line of the file, from 1."""


@dataclass(frozen=True)
class Names:
    """Names that may be spoken of elsewhere: of sound rows, and of those that fell out for their own fault.

    `whole` is false where some could not be read; then nothing can be said to be missing.
    """

    held: Collection[str] = ()
    whole: bool = True

    def lack(self, name: str) -> bool:
        """Whether `name` is given and certainly nothing is called so."""
        return bool(name) and self.whole and name not in self.held


@dataclass
class Table(Generic[Model]):
    """One config table as read.

    Parameters
    ----------
    rows : list of model
        The lines that are sound.
    broken : list of model
        The others, their cells as text, unjudged: what they say of other tables can still be checked.
    faults : list of Fault
        What is wrong with them.
    names : dict of str to int
        Line of each name, sound or not.
    whole : bool
        Whether every line's name could be read.
    """

    rows: list[Model] = field(default_factory=list)
    broken: list[Model] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    names: dict[str, int] = field(default_factory=dict)
    whole: bool = True

    @property
    def every(self) -> list[Model]:
        """Sound rows and broken ones."""
        return [*self.rows, *self.broken]

    @property
    def named(self) -> Names:
        """The names it holds."""
        return Names(self.names, self.whole)


def read_rows(path: Path, model: type[Model], key: str) -> Table[Model]:
    """Read one config table.

    Parameters
    ----------
    path : Path
        CSV with a header; UTF-8 with or without a byte-order mark. Where semicolons or tabs part the cells,
        numbers may have a decimal comma.
    model : type
        A `Row` whose fields are the columns that may stand in the file.
    key : str
        Column whose value must be unique.
    """
    file = f"config/{path.name}"
    try:
        text = path.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        remedy = "make it; the config of `stillwell demo DIR` shows how"
        return Table(faults=[Fault(file, None, None, "the file is missing", remedy)], whole=False)
    except UnicodeDecodeError:
        return Table(faults=[Fault(file, None, None, "not UTF-8 text", "save it as CSV UTF-8")], whole=False)
    # Only line ends end a line: `splitlines` would also stop at form feeds within a cell.
    dialect = dialect_of(text)
    reader = csv.DictReader(StringIO(text, newline=None), strict=False, delimiter=dialect.separator)
    columns = list(reader.fieldnames or [])
    faults = _unknown_columns(file, columns, model, key)
    table: Table[Model] = Table(faults=faults, whole=key in columns)
    # What the header lacks is told once, and while it is wrong no row is judged as a whole.
    told = {*_needed(model, key), None} - set(columns) if faults else set()
    for cells in reader:
        swallowed = _swallowed(cells, len(columns), dialect.separator)
        if swallowed:
            column, lines = swallowed
            problem = f"a quote is opened and not closed: its cell holds the rows of {lines} lines"
            remedy = "close the quote where its text ends, or strike it"
            first = reader.line_num - lines + 1
            table.faults.append(Fault(file, first, column, problem, remedy))
            table.whole = False
        else:
            _take(table, file, reader.line_num, cells, model, key, told, dialect)
    return table


def _swallowed(cells: Mapping[str | None, Any], width: int, separator: str) -> tuple[str | None, int] | None:
    """Return the column whose quote goes on over rows of the table, and over how many lines; else None."""
    for column, given in cells.items():
        for cell in given if isinstance(given, list) else [given or ""]:
            lines = cell.rstrip("\n").split("\n")
            if any(line.count(separator) >= width - 1 for line in lines[1:]):
                return column, len(lines)
    return None


def _take(
    table: Table[Model],
    file: str,
    line: int,
    cells: dict[str, Any],
    model: type[Model],
    key: str,
    told: Collection[str | None],
    dialect: Dialect,
) -> None:
    """Put one line of the file into the table."""
    known = {name: cell for name, cell in cells.items() if name in model.model_fields}
    filled = {name: cell.strip() for name, cell in known.items() if cell and cell.strip()}
    fits = None not in cells and None not in cells.values()
    if fits and not filled:
        return
    filled, doubtful = _with_points(file, line, filled, model, dialect)
    row, problems = _read_row(file, line, filled, model)
    problems = doubtful or problems
    problems = [problem for problem in problems if problem.column not in told]
    if not fits:
        mark = "comma" if dialect.separator == "," else f"{dialect.separator!r}"
        remedy = f"give it as many cells as the header has; put quotes around a cell with a {mark} in it"
        problems = [Fault(file, line, None, "the row is longer or shorter than the header", remedy)]
        # Nobody knows in which column its cells belong.
        row, filled = None, {key: filled[key]} if key in filled else {}
    name = filled.get(key)
    if name in table.names:
        problem = f"{name!r} stands in row {table.names[name]} already"
        problems = [*problems, Fault(file, line, key, problem, "keep one of the two")]
    table.faults += problems
    if row is None or problems:
        blank = dict.fromkeys(_needed(model, key), "")
        unjudged: Any = model.model_construct(**{**blank, **filled, "row": line})
        table.broken.append(unjudged)
    else:
        table.rows.append(row)
    if name is None:
        table.whole = False
    else:
        table.names.setdefault(name, line)


def _with_points(
    file: str, line: int, filled: dict[str, str], model: type[Model], dialect: Dialect
) -> tuple[dict[str, str], list[Fault]]:
    """Return the cells with points for decimal commas in the numbers, and faults of those of two meanings."""
    faults: list[Fault] = []
    read = dict(filled)
    for name, cell in filled.items():
        if "float" in str(model.model_fields[name].annotation):
            try:
                read[name] = "|".join(map(dialect.plain, cell.split("|")))
            except ValueError as error:
                faults.append(Fault(file, line, name, str(error), BOTH_WAYS))
    return read, faults


def _needed(model: type[Row], key: str) -> list[str]:
    fields = model.model_fields
    return list(
        dict.fromkeys([key, *(n for n, field in fields.items() if n != "row" and field.is_required())])
    )


def _unknown_columns(file: str, columns: list[str], model: type[Row], key: str) -> list[Fault]:
    known = [name for name in model.model_fields if name != "row"]
    faults = [
        Fault(file, 1, column or "(blank)", "is not a column we know", f"use some of: {', '.join(known)}")
        for column in columns
        if column not in known
    ]
    faults += [
        Fault(file, 1, name, "the column is missing", "add it to the header and fill it in")
        for name in _needed(model, key)
        if name not in columns
    ]
    return faults


def _read_row(
    file: str, line: int, filled: dict[str, str], model: type[Model]
) -> tuple[Model | None, list[Fault]]:
    try:
        return model.model_validate({**filled, "row": line}), []
    except ValidationError as error:
        return None, [_fault(file, line, problem) for problem in error.errors()]


def _fault(file: str, line: int, problem: object) -> Fault:
    assert isinstance(problem, dict)
    column = str(problem["loc"][0]) if problem["loc"] else None
    if problem["type"] == "missing":
        return Fault(file, line, column, "the cell is blank", "fill it in")
    told, remedy = plainly(problem)
    return Fault(file, line, column, told, remedy or "correct the cell")
