"""Bare days: stamps that are days without a clock; a day's total or mean is no reading of its midnight."""

from datetime import time, timedelta, tzinfo

import polars as pl

from pipeline.clock import to_local
from pipeline.config.tags import HOLD_STEPS, Tag
from pipeline.errors import RefusedError

_BARE = r"^\s*(?:\d{1,4}[/.-]\d{1,2}[/.-]\d{1,4}|\d{8}|\d{1,2}[-/ ][A-Za-z]{3,9}[-/ ]\d{2,4})\s*$"
LEAST_DAILY_S = 43_200.0
"""A tag that is read oftener than twice a day has no reading that stands for a day: judgement, no source."""


class BareDays:
    """Looks through the stamps of a file, slab by slab, for days without a clock, and for clocks."""

    def __init__(self) -> None:
        self.any = False
        self.clocked = False
        self.count = 0
        self.days = pl.DataFrame(schema={"tag": pl.String, "when": pl.String})

    @property
    def mixed(self) -> bool:
        """Whether some stamps have a clock and others none."""
        return self.any and self.clocked

    def note(self, rows: pl.DataFrame) -> None:
        """Look at the column `when` of a slab, beside its column `tag` where it has one."""
        if rows.is_empty():
            return
        # Neighbours mostly share their stamp, and most stamps have a colon: both are seen in no time.
        when = rows["when"].rle().struct.field("value").cast(pl.String)
        odd = when.filter(~when.str.contains(":", literal=True).fill_null(False))
        bare = int(odd.str.contains(_BARE).sum())
        self.any |= bare > 0
        self.clocked |= bare < len(when)
        if self.clocked:
            return
        tag = pl.col("tag").cast(pl.String) if "tag" in rows.columns else pl.lit("").alias("tag")
        days = rows.select(tag, pl.col("when").cast(pl.String))
        self.count += days.height
        self.days = pl.concat([self.days, days.unique()]).unique()

    def refuse_repeated(self, file: str) -> None:
        """Refuse a file whose days come several times each: all readings of a day would be one.

        Raises
        ------
        RefusedError
            No stamp has a clock, and there are more than two for each day of a tag.
        """
        if self.clocked or self.days.height * 2 >= self.count:
            return
        day = self.days["when"].sort()[0]
        problem = f"its times are days without a clock, and each comes several times, such as {day!r}"
        remedy = "export the clock in the same column, or beside it under the header Time"
        raise RefusedError(file, problem, remedy)


def without_days(
    stamps: pl.DataFrame, when: pl.Series, places: pl.Series, tags: list[Tag], zone: tzinfo
) -> pl.DataFrame:
    """Refuse days without a clock of tags that are read oftener, but for a midnight whose 00:00 was dropped.

    That one stands where it is due: in the order of time, next to a reading of the tag, and no other
    reading of the tag has the clock of midnight.

    Parameters
    ----------
    stamps : DataFrame
        ``time`` and ``time_reason``, in file order within each tag.
    when : Series of str
        As written.
    places : Series of int
        Place of each reading's tag in `tags`.
    tags : list of Tag
        The plant's.
    zone : tzinfo
        In which the times were read.
    """
    names, steps = (
        pl.Series(told).gather(places) for told in ([tag.tag for tag in tags], [tag.step_s for tag in tags])
    )
    bare = when.cast(pl.String).str.contains(_BARE).fill_null(False)
    asked = bare & (steps < LEAST_DAILY_S)
    if not asked.any():
        return stamps
    rows = stamps.with_columns(when, names.alias("tag"), steps.alias("step"), asked.alias("asked"))
    refused = pl.col("asked") & pl.col("time").is_not_null() & ~_is_due(zone)
    reason = pl.format(
        "'{}' has no clock, and {} is read every {} s: a day's total or mean takes a tag of its own, "
        "with step_s = 86400 in config/tags.csv",
        *("when", "tag", pl.col("step").map_elements("{:g}".format, pl.String)),
    )
    # polars 2.1 cannot format a column that lies in several pieces.
    return rows.rechunk().select(
        pl.when(~refused).then("time").alias("time"),
        pl.when(refused).then(reason).otherwise("time_reason").alias("time_reason"),
    )


def _is_due(zone: tzinfo) -> pl.Expr:
    """Whether a midnight is due where it stands: between readings of its tag, a step or two from one."""
    before = pl.col("time").diff().over("tag")
    after = -pl.col("time").diff(-1).over("tag")
    near = pl.col("step") * HOLD_STEPS * 1e6
    close = pl.any_horizontal(wait.abs().dt.total_microseconds() <= near for wait in (before, after))
    in_order = ((before > timedelta()) == (after > timedelta())).fill_null(True)
    moves = pl.all_horizontal((wait != timedelta()).fill_null(True) for wait in (before, after))
    on_clock = ~pl.col("asked") & (to_local(pl.col("time"), zone).dt.time() == time())
    return close.fill_null(False) & in_order & moves & ~on_clock.fill_null(False).any().over("tag")
