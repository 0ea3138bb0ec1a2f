"""Papers: small tables of text, as people and the truth write them; an empty cell is left empty."""

from collections.abc import Callable, Iterable

import polars as pl


def paper(
    rows: Iterable[tuple[str, ...]], columns: tuple[str, ...], order: Callable[[tuple[str, ...]], object]
) -> pl.DataFrame:
    """Return `rows` as a table with `columns`, sorted by `order`."""
    ordered = sorted(rows, key=order)  # type: ignore[arg-type]
    table = pl.DataFrame(ordered, schema=dict.fromkeys(columns, pl.String), orient="row")
    return table.with_columns(pl.all().replace("", None))
