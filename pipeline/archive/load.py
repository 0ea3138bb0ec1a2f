"""Load: all that a batch brings for one tag in one month, delivery after delivery."""

import itertools
from collections.abc import Iterator
from dataclasses import dataclass, field

import polars as pl

from pipeline.table import LONG, QUALITY, conform


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

    @property
    def is_plain(self) -> bool:
        """Whether all is good numbers of one delivery, one after the other in time."""
        if any(source != self.source or run.width > 2 for source, run in self.runs):
            return False
        frames = [run["time"] for _, run in self.runs]
        return all(_increases(time) for time in frames) and all(
            before[-1] < after[0] for before, after in itertools.pairwise(frames)
        )

    def plain(self) -> tuple[pl.Series, pl.Series]:
        """Return times and values of a load that `is_plain`."""
        together = pl.concat([run for _, run in self.runs])
        return together["time"], together["value"]

    def rows(self, tag: str) -> pl.DataFrame:
        """Return everything as LONG, in the order of delivery; of a slab the plain readings come first."""
        runs = [run.with_columns(source=pl.lit(source)) for source, run in self.runs]
        rows = pl.concat(runs, how="diagonal")
        more = [
            pl.lit(None, dtype).alias(name)
            for name, dtype in (("quality", QUALITY), ("raw", pl.String()))
            if name not in rows.columns
        ]
        rows = rows.with_columns(*more).with_columns(
            pl.lit(tag).alias("tag"), pl.col("quality").fill_null("good")
        )
        return conform(rows, LONG)


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


def _increases(time: pl.Series) -> bool:
    number = time.to_numpy()
    return bool((number[1:] > number[:-1]).all())
