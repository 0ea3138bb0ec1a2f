"""Bare days: stamps that are days without a clock, of which each may stand for one reading of a tag alone."""

import polars as pl

from pipeline.errors import RefusedError

_FEW = 64
_BARE = r"^\s*(?:\d{1,4}[/.-]\d{1,2}[/.-]\d{1,4}|\d{8})\s*$"


class BareDays:
    """Looks through the stamps of a file, slab by slab, for a clock."""

    def __init__(self) -> None:
        self.clocked = False
        self.count = 0
        self.days = pl.DataFrame(schema={"tag": pl.String, "when": pl.String})

    def note(self, rows: pl.DataFrame) -> None:
        """Look at the column `when` of a slab, beside its column `tag` where it has one."""
        if self.clocked or rows.is_empty():
            return
        when = rows["when"]
        few = when.gather_every(max(1, len(when) // _FEW)).cast(pl.String)
        self.clocked = not (few.str.contains(_BARE).all() and when.cast(pl.String).str.contains(_BARE).all())
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
