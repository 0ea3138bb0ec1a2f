"""Carried: numbers that carry their unit ("45 %") are set apart from it, where a tag carries one alone."""

import polars as pl

from pipeline.ingest.channels import unit_of
from pipeline.ingest.values import WITH_UNIT


def apart(rows: pl.DataFrame) -> pl.DataFrame:
    """Set numbers and their units apart.

    Parameters
    ----------
    rows : DataFrame
        ``tag``, ``value`` and ``unit`` (blank where the export says none), and others.

    Returns
    -------
    DataFrame
        The same; of a tag whose cells carry two units, or another than the export says, as it was.
    """
    groups = pl.col("value").str.strip_chars().str.extract_groups(rf"^(?:{WITH_UNIT.pattern})$").struct
    cells = rows.with_columns(number=groups.field("1"), word=groups.field("2"))
    words = cells["word"].drop_nulls().unique().to_list()
    known = {word: unit for word in words if (unit := unit_of(word))}
    if not known:
        return rows
    carried = pl.col("word").replace_strict(known, default=None, return_dtype=pl.String)
    spelled = pl.col("unit").replace({said: unit_of(said) or said for said in rows["unit"].unique()})
    cells = cells.with_columns(carried=carried, spelled=spelled)
    one = pl.col("carried").drop_nulls().first().over("tag")
    others = [(pl.col(name).fill_null("") == "") | (pl.col(name) == one) for name in ("carried", "spelled")]
    alone = one.is_not_null() & pl.all_horizontal(others).all().over("tag")
    return rows.with_columns(
        cells.select(
            pl.when(alone & pl.col("carried").is_not_null()).then("number").otherwise("value").alias("value"),
            pl.when(alone & (pl.col("unit") == "")).then(one).otherwise("unit").alias("unit"),
        )
    )
