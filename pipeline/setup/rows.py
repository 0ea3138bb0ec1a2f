"""Rows: lines of one reading each whose tags stand under a heading that nobody knows."""

import polars as pl

from pipeline.errors import RefusedError
from pipeline.ingest.values import number_of

_SHARE = 0.9
"""So many of the lines must be told apart by the text beside their time; the others may be slips."""
_SHOWN = 3


def refuse_unnamed_tags(raw: pl.DataFrame, file: str) -> None:
    """Refuse an export of columns in which one column names the tag of every line.

    Read as columns it would keep of each instant the last tag's reading alone.

    Parameters
    ----------
    raw : DataFrame of RAW
        Of an export with one time a line.
    file : str
        For the error.

    Raises
    ------
    RefusedError
        The times come again and again, and the words of a column tell their lines apart.
    """
    first = raw["tag"][0]
    lines = raw.filter(pl.col("tag") == first)
    times = lines["when"].n_unique()
    if times > _SHARE * lines.height:
        return
    for name in raw["tag"].cast(pl.String).unique(maintain_order=True):
        cells = raw.filter(pl.col("tag").cast(pl.String) == name)
        words = cells["value"].unique(maintain_order=True)
        if len(words) < 2 or len(words) > cells.height // 2:
            continue
        # Numbers must come once at every time, as the numbers of sensors do and readings do not.
        if number_of(words[0], ".") is not None and len(words) * times != cells.height:
            continue
        if cells.select("when", "value").n_unique() >= _SHARE * cells.height:
            shown = ", ".join([*words[:_SHOWN], *(["…"] if len(words) > _SHOWN else [])])
            problem = f"each line seems to hold one reading, of the tag in its column {name!r} ({shown})"
            remedy = "head that column Tag, and the column of its reading Value"
            raise RefusedError(file, problem, remedy)
