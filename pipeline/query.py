"""Query: SQL over the archive, the logbook and the reports; it can only read."""

import re
from itertools import pairwise
from pathlib import Path

import polars as pl

from pipeline.archive.trends import read
from pipeline.config.load import Plant
from pipeline.errors import UsageError
from pipeline.logbook.book import read_logbook

_PIECES = re.compile(r"""'(?:[^']|'')*'|"[^"]*"|`[^`]*`|--[^\n]*|\w+|\s+|.""")
_ALIAS = re.compile(r"""\sas\s+(?:\w+|"[^"]*"|`[^`]*`)$""", re.IGNORECASE)
"""The name that an item gives itself; the engine knows none without AS."""

_READS_FILES = re.compile(r"""["`]?(?:read|scan)_\w+["`]?""", re.IGNORECASE)
"""How the engine's functions that open a file are called."""

TABLES = ("trends", "lab", "calibrations", "findings", "excursions", "limits")


def query(plant: Plant, sql: str) -> pl.DataFrame:
    """Answer one SELECT.

    Parameters
    ----------
    plant : Plant
    sql : str
        Over ``trends`` (``tag, time, value, quality, raw``; time in UTC), ``lab``, ``calibrations``, and
        ``findings``, ``excursions``, ``limits``: the rows of every report, with its label in ``report``.

    Raises
    ------
    UsageError
        The query cannot be understood, names a table or column that is not there, or opens a file.
    """
    if not sql.lstrip().lower().startswith(("select", "with", "(")):
        raise UsageError("only SELECT is answered here; the archive is never changed by a query")
    opening = _opening(sql)
    if opening:
        raise UsageError(f"{opening} would open a file; only these tables are read: {', '.join(TABLES)}")
    context = pl.SQLContext(_tables(plant))
    try:
        return _headed(context.execute(sql, eager=True), sql)
    except pl.exceptions.PolarsError as error:
        problem = str(error).splitlines()[0]
        raise UsageError(f"the query cannot be answered: {problem}; tables: {', '.join(TABLES)}") from error


def _opening(sql: str) -> str:
    """Return the first call of a function that opens a file; what a column is named is no call."""
    pieces = [piece for piece in _PIECES.findall(sql) if not piece.isspace()]
    # A remark may stand between the name and its bracket.
    calls = (name for name, behind in pairwise(pieces) if behind[0] in "(-/" and _READS_FILES.fullmatch(name))
    return next(calls, "")


def _headed(answer: pl.DataFrame, sql: str) -> pl.DataFrame:
    """Head what was worked out with its expression (``sum(minutes)``), not with a column's name alone."""
    items = _items(sql)
    if len(items) != answer.width:
        return answer  # A star stands for columns that have names.
    worked_out = ["(" in item and not _ALIAS.search(item) for item in items]
    heads = [
        item if is_so else column
        for item, is_so, column in zip(items, worked_out, answer.columns, strict=True)
    ]
    if len(set(heads)) < len(heads):
        return answer
    return answer.rename(dict(zip(answer.columns, heads, strict=True)))


def _items(sql: str) -> list[str]:
    """Return what the outermost SELECT lists, as written; nothing of several put together."""
    items: list[str] = []
    depth, is_listing = 0, False
    for piece in _PIECES.findall(sql):
        word = piece.lower() if depth == 0 else ""
        depth += (piece == "(") - (piece == ")")
        if word in ("union", "intersect", "except"):
            return []
        if word in ("select", "from"):
            is_listing = word == "select"
            items += [""] if is_listing else []
        elif word == "distinct":
            continue
        elif is_listing and word == ",":
            items.append("")
        elif is_listing and not piece.startswith("--"):
            items[-1] += piece
    return [" ".join(item.split()).rstrip(";").strip() for item in items]


def _tables(plant: Plant) -> dict[str, pl.LazyFrame]:
    book, _ = read_logbook(plant)
    raw = pl.coalesce("raw", pl.col("value").cast(pl.String)).alias("raw")
    return {
        "trends": read(plant.archive).select("tag", "time", "value", "quality", raw),
        "lab": book.grabs.lazy(),
        "calibrations": book.calibrations.lazy(),
        **{name: _reported(plant.reports, f"{name}.csv").lazy() for name in TABLES[3:]},
    }


def _reported(reports: Path, name: str) -> pl.DataFrame:
    """Rows of one table of every report, oldest report first."""
    folders = sorted(path.parent for path in reports.glob(f"[!.]*/{name}"))
    frames = [_told(folder / name) for folder in folders]
    if not frames:
        return pl.DataFrame(schema={"report": pl.String})
    return pl.concat(frames, how="vertical_relaxed").with_columns(pl.col(pl.Null).cast(pl.String))


def _told(path: Path) -> pl.DataFrame:
    """Rows of one report's table.

    A column with nothing in it takes the type it has in other reports: a week without an excursion makes
    no text of the minutes of all others.
    """
    rows = pl.read_csv(path, infer_schema_length=None, try_parse_dates=True)
    blank = [column.name for column in rows if column.null_count() == rows.height]
    return rows.select(pl.lit(path.parent.name).alias("report"), pl.all()).cast(
        dict.fromkeys(blank, pl.Null())
    )


def as_text(frame: pl.DataFrame) -> str:
    """Return every row as a plain table for a terminal."""
    with pl.Config(
        tbl_rows=-1,
        tbl_cols=-1,
        tbl_width_chars=-1,
        fmt_str_lengths=200,
        tbl_hide_column_data_types=True,
        tbl_hide_dataframe_shape=True,
        tbl_formatting="ASCII_MARKDOWN",
        tbl_cell_numeric_alignment="RIGHT",
        float_precision=None,
    ):
        return str(frame)
