"""Remarks: what of a file was read in good faith, and its reader has to know; said beside its accounts."""

from dataclasses import dataclass
from datetime import datetime, timedelta, timezone

import polars as pl

from pipeline.clock import to_local
from pipeline.errors import RefusedError
from pipeline.ingest.clean import Cleaned, Cleaner
from pipeline.ingest.forms import Order
from pipeline.ingest.grid import TIME
from pipeline.ingest.qualities import code_of
from pipeline.ingest.stamps import read_stamps

_SHOWN = 3
_NOWHERE = timezone(timedelta(minutes=1))
"""No clock of the world shows the time of this one."""
_OFFSETS = "export its times with their offset from UTC"


@dataclass(frozen=True)
class Understood:
    """The layout that read a file, and what its reader has to know of it."""

    layout: str
    remarks: tuple[str, ...] = ()


class Remarks:
    """Looks at what is read of a file, slab by slab."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.has_good = False
        self.span: tuple[datetime, datetime] | None = None

    def note(self, cleaned: Cleaned) -> None:
        """Look at a slab."""
        plain = cleaned.plain is not None and cleaned.count > cleaned.readings.height + cleaned.refused.height
        self.has_good = self.has_good or plain or bool((cleaned.readings["quality"] == "good").any())
        for times in (cleaned.readings["time"], *([] if cleaned.plain is None else [cleaned.plain[TIME]])):
            first, last = times.min(), times.max()
            if isinstance(first, datetime) and isinstance(last, datetime):
                before = self.span or (first, last)
                self.span = min(before[0], first), max(before[1], last)

    def told(self, cleaner: Cleaner) -> tuple[str, ...]:
        """Return what to say of the whole file.

        Raises
        ------
        RefusedError
            All its times lie in an hour that the clock shows twice.
        """
        return (*self._of_nights(cleaner), *self._of_qualities(cleaner))

    def _of_qualities(self, cleaner: Cleaner) -> list[str]:
        texts = [text for text, quality in cleaner.meant.items() if quality]
        if self.has_good or self.span is None or not texts:
            return []
        shown = ", ".join(map(repr, texts[:_SHOWN])) + (" …" if len(texts) > _SHOWN else "")
        remark = f"no reading of it is good: its quality says {shown}"
        if all(code_of(text) is None for text in texts):
            return [f"{remark}; see at the recorder why"]
        return [
            f"{remark}; its manual says what its codes mean: quality_codes in config/plant.toml, "
            '[reading], is "classic" where 192 is good and 0 is bad, "ua" where 0 is good'
        ]

    def _of_nights(self, cleaner: Cleaner) -> list[str]:
        rows = pl.concat(cleaner.repeated) if cleaner.repeated else None
        if rows is None or self.span is None:
            return []
        walls = rows.filter(~_carry_offsets(rows, self.file)).drop_nulls("time")
        walls = walls.with_columns(to_local(pl.col("time"), cleaner.zone or cleaner.plant.zone).alias("wall"))
        nights = walls.group_by(pl.col("wall").dt.date(), maintain_order=True)
        return [remark for _, night in nights for remark in _of_night(night, self.span, self.file)]


def _carry_offsets(rows: pl.DataFrame, file: str) -> pl.Series:
    """Mark stamps that carry their offset from UTC: they are the same instant on every clock."""
    orders: tuple[Order, Order] = ("month_first", "day_first")
    elsewhere = [read_stamps(rows, _NOWHERE, order, file, False)["time"] for order in orders]
    same = [(rows["time"] == times).fill_null(False) for times in elsewhere]
    return same[0] | same[1]


def _of_night(night: pl.DataFrame, span: tuple[datetime, datetime], file: str) -> list[str]:
    """Tell of times that the clock shows twice that night and the file once, unless it ends with them."""
    offsets = (night["wall"] - night["time"].dt.replace_time_zone(None)).unique()
    first, last = night["time"].min(), night["time"].max()
    if len(offsets) > 1 or not isinstance(first, datetime) or not isinstance(last, datetime):
        return []
    clock = night["wall"].dt.strftime("%H:%M")
    begin, end = str(clock.min()), str(clock.max())
    day = night["wall"].dt.strftime("%-d %B %Y")[0]
    shown = f"{begin} on {day}" if begin == end else f"{begin} to {end} on {day}"
    if first <= span[0] and span[1] <= last:
        problem = f"the clock shows {shown} twice, and no other time in it tells which is meant"
        raise RefusedError(file, problem, f"{_OFFSETS}, or together with the hours around it")
    if span[1] <= last:
        return []
    return [
        f"the clock shows {shown} twice and the file once, taken for the first time; if the second is meant, "
        f"{_OFFSETS}; if the recorder keeps standard time all year, say so with time_zone in "
        "config/plant.toml, [reading]"
    ]
