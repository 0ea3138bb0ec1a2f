"""Furniture: lines among the readings that hold none: a header that comes again, a line of averages."""

from collections.abc import Callable, Collection

import polars as pl

from pipeline.errors import RefusedError
from pipeline.ingest.cells import Cut, Uncut, as_numbers
from pipeline.ingest.channels import unit_of
from pipeline.ingest.refusal import REFUSED, refuse
from pipeline.ingest.sheet import Sheet
from pipeline.ingest.vocabulary import is_number, names_a_time
from pipeline.table import empty

_SUMMARY = (
    r"(?i)^(?:average|avg|mean|min|minimum|max|maximum|total|totals|sum|count|median|std|standard deviation|"
    r"stdev|range|variance|end of (?:report|file|data|export)|eof|grand total|samples|number of)\b"
)
"""How lines of summary begin: common practice, no source."""


def read_numbers(sheet: Sheet, places: Collection[int]) -> tuple[pl.DataFrame, pl.DataFrame, Uncut | Cut]:
    """Return the lines of readings with some columns as numbers, REFUSED, and the cells as they stand.

    Parameters
    ----------
    sheet : Sheet
    places : collection of int
        Columns that hold numbers, null where a cell holds none.
    """
    frame, others, broken, cells = sheet.read(places)
    others, furniture = without_furniture(others, sheet)
    if others.height:
        frame = pl.concat([frame, others.with_columns(as_numbers(places))]).sort("line")
    frame, summary = without_furniture(frame, sheet, cells.whole)
    return frame, pl.concat([broken, furniture, summary]).sort("line", maintain_order=True), cells


def without_furniture(
    cells: pl.DataFrame, sheet: Sheet, whole: Callable[[pl.Series], pl.DataFrame] | None = None
) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Take out rows of the header that stand among the readings again, and lines of summary.

    Parameters
    ----------
    cells : DataFrame
        Columns ``c0``, ``c1`` … and ``line``, from a sheet; those of the time are text.
    sheet : Sheet
        Which they are from.
    whole : callable, optional
        Gives some lines as text, by their numbers; by default all columns are text.

    Returns
    -------
    cells : DataFrame
        The others.
    refused : DataFrame of REFUSED
        The lines of summary and of mere text, whole. A repeated header is no reading and leaves no trace.

    Raises
    ------
    RefusedError
        A header comes that is another than the first: what stands below it are other columns, or other units.
    """
    head = sheet.head
    first = pl.col(f"c{head.when_columns[0]}")
    # A written time begins with a digit; only what does not is looked at, once for neighbours that are alike.
    is_odd = (first < "0") | (first >= ":")
    if (
        not cells.select(first.rle().struct.field("value").alias(first.meta.output_name()))
        .select(is_odd.any())
        .item()
    ):
        return cells, empty(REFUSED)
    odd = cells.select(is_odd).to_series()
    columns = [f"c{place}" for place in range(head.width)]
    # Files that were put together keep their byte-order marks in the middle.
    suspects = cells.filter(odd) if whole is None else whole(cells["line"].filter(odd))
    suspects = suspects.with_columns(pl.col("c0").str.strip_prefix("\ufeff"))
    headers = pl.DataFrame(list(head.rows), dict.fromkeys(columns, pl.String), orient="row")
    again = suspects.join(headers, on=columns, how="semi")["line"]
    _refuse_another(suspects.filter(~pl.col("line").is_in(again.implode())), sheet, columns)
    filled = pl.sum_horizontal(pl.col(columns) != "")
    alone = (filled == 1) & (first != "")
    is_summary = pl.concat_str(columns[:2], separator="\0").str.contains(_SUMMARY)
    others = suspects.filter((is_summary | alone) & ~pl.col("line").is_in(again.implode()))
    out = pl.concat([again, others["line"]])
    texts = others.select(
        "line", is_summary.alias("summary"), pl.concat_str(columns, separator=head.delimiter).alias("value")
    )
    reason = pl.when("summary").then(pl.lit("a line of summary, not a reading"))
    refused = refuse(texts, reason.otherwise(pl.lit("a line of text, not a reading")))
    return cells.filter(~pl.col("line").is_in(out.implode())), refused


def _refuse_another(suspects: pl.DataFrame, sheet: Sheet, columns: list[str]) -> None:
    when = sheet.head.when_columns[0]
    for line, *cells in suspects.select("line", *columns).iter_rows():
        others = [cell for place, cell in enumerate(cells) if place not in sheet.head.when_columns and cell]
        if names_a_time(cells[when]) and others and not any(map(is_number, others)):
            problem = f"another header stands in line {line}: {', '.join(filter(None, cells))}"
            raise RefusedError(sheet.name, problem, "export each table as a file of its own")
        if len(sheet.head.rows) > 1 and others and all(map(unit_of, others)):
            problem = f"other units than in the header stand in line {line}: {', '.join(others)}"
            raise RefusedError(sheet.name, problem, "export each table as a file of its own")
