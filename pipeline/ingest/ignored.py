"""Ignored: columns of an export that the plant says hold no reading; they are left out before any count."""

from collections.abc import Collection, Iterable
from fnmatch import fnmatchcase

import polars as pl


def ignored(names: Iterable[str], patterns: Collection[str], known: Collection[str] = ()) -> list[str]:
    """Return those of `names` that fit one of the shell `patterns` and are no tag of the plant.

    A column that tags.csv names is read, whatever a pattern says: ``F_*`` does not cost anyone F_1.
    """
    return [
        name
        for name in names
        if name not in known and any(fnmatchcase(name, pattern) for pattern in patterns)
    ]


def without_ignored(
    raw: pl.DataFrame, patterns: Collection[str], known: Collection[str] = ()
) -> pl.DataFrame:
    """Return RAW (or REFUSED) without the rows whose column is ignored."""
    if not patterns or raw.is_empty():
        return raw
    names = ignored(raw["tag"].unique().drop_nulls().sort(), patterns, known)
    return raw.filter(~pl.col("tag").is_in(names).fill_null(False)) if names else raw
