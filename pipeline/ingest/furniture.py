"""Furniture: lines among the readings that hold none: a header that comes again, a line of averages."""

import polars as pl

from pipeline.ingest.head import Head
from pipeline.ingest.refusal import REFUSED, refuse
from pipeline.table import empty

_SUMMARY = (
    r"(?i)^(?:average|avg|mean|min|minimum|max|maximum|total|totals|sum|count|median|std|standard deviation|"
    r"stdev|range|variance|end of (?:report|file|data|export)|eof|grand total|samples|number of)\b"
)
"""How lines of summary begin: common practice, no source."""


def without_furniture(cells: pl.DataFrame, head: Head) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Take out rows of the header that stand among the readings again, and lines of summary.

    Parameters
    ----------
    cells : DataFrame
        Text columns ``c0``, ``c1`` … and ``line``, from a sheet.
    head : Head
        Of the file.

    Returns
    -------
    cells : DataFrame
        The others.
    refused : DataFrame of REFUSED
        The lines of summary and of mere text, whole. A repeated header is no reading and leaves no trace.
    """
    first = pl.col(f"c{head.when_columns[0]}")
    # A written time begins with a digit; only what does not is looked at.
    odd = cells.select(((first < "0") | (first >= ":")).alias("odd"))["odd"]
    if not odd.any():
        return cells, empty(REFUSED)
    columns = [f"c{place}" for place in range(head.width)]
    # Files that were put together keep their byte-order marks in the middle.
    suspects = cells.filter(odd).with_columns(pl.col("c0").str.strip_prefix("\ufeff"))
    headers = pl.DataFrame(list(head.rows), dict.fromkeys(columns, pl.String), orient="row")
    again = suspects.join(headers, on=columns, how="semi")["line"]
    filled = pl.sum_horizontal(pl.col(columns) != "")
    alone = (filled == 1) & (first != "")
    is_summary = pl.concat_str(columns[:2], separator="\0").str.contains(_SUMMARY)
    others = suspects.filter((is_summary | alone) & ~pl.col("line").is_in(again.implode()))
    out = pl.concat([again, others["line"]])
    whole = others.select(
        "line", is_summary.alias("summary"), pl.concat_str(columns, separator=head.delimiter).alias("value")
    )
    reason = pl.when("summary").then(pl.lit("a line of summary, not a reading"))
    refused = refuse(whole, reason.otherwise(pl.lit("a line of text, not a reading")))
    return cells.filter(~pl.col("line").is_in(out.implode())), refused
