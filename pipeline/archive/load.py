"""Load: all that a batch brings for one tag in one month, delivery after delivery."""

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
import polars as pl

from pipeline.table import LONG, QUALITY


@dataclass
class Load:
    """Runs of readings, each with ``time, value`` and, where they say more, ``quality, raw``."""

    runs: list[tuple[str, pl.DataFrame]] = field(default_factory=list)

    def add(self, source: str, run: pl.DataFrame) -> None:
        """Take on a run of the delivery `source`."""
        self.runs.append((source, run))

    @property
    def source(self) -> str:
        """The first delivery."""
        return self.runs[0][0]

    def alone(self) -> pl.DataFrame | None:
        """Return all readings by time, where one delivery brings one for each instant; else None."""
        if any(source != self.source for source, _ in self.runs):
            return None
        rows = pl.concat([run for _, run in self.runs], how="diagonal")
        time = rows["time"].to_numpy()
        if not (time[1:] > time[:-1]).all():
            order = np.argsort(time, kind="stable")
            time = time[order]
            if not (time[1:] > time[:-1]).all():
                return None
            rows = rows[order]
        return rows.with_columns(_good("quality")) if "quality" in rows.columns else rows

    def rows(self, tag: str) -> pl.DataFrame:
        """Return everything with the columns of LONG, in order; of a slab the plain readings first."""
        sources = pl.Enum(list(dict.fromkeys(source for source, _ in self.runs)))
        runs = [run.with_columns(pl.lit(source, sources).alias("source")) for source, run in self.runs]
        rows = pl.concat(runs, how="diagonal")
        more = [
            pl.lit(None, dtype).alias(name)
            for name, dtype in (("quality", QUALITY), ("raw", pl.String()))
            if name not in rows.columns
        ]
        rows = rows.with_columns(pl.lit(tag, pl.Enum([tag])).alias("tag"), *more)
        return rows.select(pl.col(name) if name != "quality" else _good(name) for name in LONG)


def _good(quality: str) -> pl.Expr:
    return pl.col(quality).fill_null(pl.lit("good", QUALITY))


def by_tag(rows: pl.DataFrame) -> Iterator[tuple[str, pl.DataFrame]]:
    """Yield the readings of each tag of one part of a cargo."""
    if "tag" not in rows.columns or rows.schema["tag"] == pl.Float64:
        time = rows.to_series(0).alias("time")
        for values in rows.iter_columns():
            if values.name != rows.columns[0] and values.count():
                run = pl.DataFrame([time, values.alias("value")])
                yield (
                    values.name,
                    run if not values.has_nulls() else run.filter(pl.col("value").is_not_null()),
                )
        return
    start = 0
    for length, tag in rows["tag"].rle().struct.unnest().iter_rows():
        yield tag, rows[start : start + length].drop("tag")
        start += length
