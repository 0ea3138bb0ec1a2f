"""Load: all that a batch brings for one tag in one month, delivery after delivery."""

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
import polars as pl

from pipeline.table import LONG, QUALITY


@dataclass(frozen=True)
class Said:
    """What readings say besides a time and a number: places in QUALITIES, and texts that are kept."""

    quality: np.ndarray
    raw: pl.Series

    def at(self, rows: np.ndarray | slice) -> "Said":
        """Return some of them."""
        return Said(self.quality[rows], self.raw[rows])


@dataclass(frozen=True)
class Run:
    """Readings of one tag.

    Parameters
    ----------
    time : ndarray of int
        Microseconds since 1970.
    value : ndarray of float
        NaN where there is no number; where `said` is None, there is no reading at that time.
    said : Said or None
        None where all are good and plain numbers.
    """

    time: np.ndarray
    value: np.ndarray
    said: Said | None = None

    def rows(self) -> pl.DataFrame:
        """Return ``time, value, quality, raw``."""
        good = pl.lit("good", QUALITY) if self.said is None else pl.Series(self.said.quality).cat.to(QUALITY)
        raw = pl.lit(None, pl.String) if self.said is None else self.said.raw
        time, value = pl.Series(self.time).cast(LONG["time"]), pl.Series(self.value).fill_nan(None)
        rows = pl.select(time=time, value=value, quality=good, raw=raw)
        return rows.drop_nulls("value") if self.said is None else rows


@dataclass(frozen=True)
class Alone:
    """All readings of one tag and one delivery by time, one for each instant.

    Parameters
    ----------
    time, value : ndarray
        As in a run.
    odd : ndarray of int
        Which of them may not be good, or have their text kept.
    said : Said or None
        What these say; None where there are none.
    """

    time: np.ndarray
    value: np.ndarray
    odd: np.ndarray
    said: Said | None


@dataclass
class Times:
    """The times of some runs, put together once: all tags of a wide file share theirs."""

    parts: list[np.ndarray] = field(default_factory=list)
    joined: np.ndarray = field(default_factory=lambda: np.array([], np.int64))
    increase: bool = True

    def join(self, parts: list[np.ndarray]) -> np.ndarray:
        """Return `parts` one after the other; `increase` tells whether each time is later than the last."""
        are_known = len(parts) == len(self.parts)
        if not are_known or any(one is not other for one, other in zip(parts, self.parts, strict=True)):
            self.parts, self.joined = parts, np.concatenate([np.array([], np.int64), *parts])
            self.increase = _increase(self.joined)
        return self.joined


@dataclass
class Load:
    """Runs of readings in the order of delivery; of a slab the plain ones first.

    Parameters
    ----------
    times : Times
        Those of another tag, which may be the same.
    """

    times: Times = field(default_factory=Times)
    runs: list[tuple[str, Run]] = field(default_factory=list)

    def add(self, source: str, run: Run) -> None:
        """Take on a run of the delivery `source`."""
        self.runs.append((source, run))

    @property
    def source(self) -> str:
        """The first delivery."""
        return self.runs[0][0]

    def alone(self) -> Alone | None:
        """Return all readings by time, where one delivery brings one for each instant; else None."""
        if any(source != self.source for source, _ in self.runs):
            return None
        time, value = self._plain()
        others = [run for _, run in self.runs if run.said is not None]
        more, number, order = _by_time(others)
        there, at = ~np.isnan(value), np.searchsorted(time, more)
        if _are_gaps(at, time, there, more):
            value[at], there[at] = number, True
            at -= np.searchsorted(np.flatnonzero(~there), at)
            time, value = _only(there, time, value)
        else:
            time, value = _only(there, time, value)
            at = np.searchsorted(time, more)
            time, value = np.insert(time, at, more), np.insert(value, at, number)
            at += np.arange(len(at))
        if not (time is self.times.joined and self.times.increase) and not _increase(time):
            return None
        said = _together([run.said for run in others if run.said])
        return Alone(time, value, at, said if said is None or order is None else said.at(order))

    def _plain(self) -> tuple[np.ndarray, np.ndarray]:
        """Return times and values of the plain runs, sorted."""
        runs = [run for _, run in self.runs if run.said is None]
        time = self.times.join([run.time for run in runs])
        value = np.concatenate([np.array([]), *(run.value for run in runs)])
        if self.times.increase:
            return time, value
        order = np.argsort(time, kind="stable")
        return time[order], value[order]

    def rows(self, tag: str) -> pl.DataFrame:
        """Return everything with the columns of LONG, in order."""
        sources = pl.Enum(list(dict.fromkeys(source for source, _ in self.runs)))
        rows = pl.concat(
            run.rows().with_columns(pl.lit(source, sources).alias("source")) for source, run in self.runs
        )
        return rows.select(pl.lit(tag, pl.Enum([tag])).alias("tag"), *list(LONG)[1:])


def by_tag(rows: pl.DataFrame) -> Iterator[tuple[str, Run]]:
    """Yield the readings of each tag of one part of a cargo."""
    if "tag" not in rows.columns or rows.schema["tag"] == pl.Float64:
        yield from _of_columns(rows)
        return
    time, value = _micros(rows["time"]), rows["value"].to_numpy()
    said = Said(rows["quality"].to_physical().to_numpy(), rows["raw"]) if "raw" in rows.columns else None
    start = 0
    for length, tag in rows["tag"].rle().struct.unnest().iter_rows():
        here = slice(start, start + length)
        yield tag, Run(time[here], value[here], said.at(here) if said else None)
        start += length


def _of_columns(rows: pl.DataFrame) -> Iterator[tuple[str, Run]]:
    time = _micros(rows.to_series(0))
    for values in rows[:, 1:].iter_columns():
        value = values.to_numpy()
        if not np.isnan(value).all():
            yield values.name, Run(time, value)


def _are_gaps(at: np.ndarray, time: np.ndarray, there: np.ndarray, more: np.ndarray) -> bool:
    """Whether the times `more`, which belong at the places `at`, stand in `time` without a reading."""
    if not len(time) or (len(at) and at[-1] == len(time)) or not (at[1:] > at[:-1]).all():
        return False
    return bool((time[at] == more).all() and not there[at].any())


def _only(there: np.ndarray, time: np.ndarray, value: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    return (time, value) if there.all() else (time[there], value[there])


def _micros(times: pl.Series) -> np.ndarray:
    return times.to_numpy().view(np.int64)


def _by_time(runs: list[Run]) -> tuple[np.ndarray, np.ndarray, np.ndarray | None]:
    """Return times and values of runs, sorted if need be, and by which order (None = as they come)."""
    time = np.concatenate([np.array([], np.int64), *(run.time for run in runs)])
    value = np.concatenate([np.array([]), *(run.value for run in runs)])
    if _increase(time):
        return time, value, None
    order = np.argsort(time, kind="stable")
    return time[order], value[order], order


def _together(said: list[Said]) -> Said | None:
    """Return what runs say one after the other; None where none says anything."""
    if not said:
        return None
    return Said(np.concatenate([one.quality for one in said]), pl.concat([one.raw for one in said]))


def _increase(time: np.ndarray) -> bool:
    return bool((time[1:] > time[:-1]).all())
