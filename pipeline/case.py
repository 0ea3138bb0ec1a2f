"""Case: all that is known of one tag up to one instant; what checks and limits judge by."""

from dataclasses import dataclass, field
from datetime import datetime, timedelta, tzinfo

import polars as pl

from pipeline.config.instruments import Instrument
from pipeline.config.tags import Tag
from pipeline.table import CALIBRATIONS, TIME, Schema, empty

READINGS: Schema = {
    "time": TIME,
    "value": pl.Float64(),
    "good": pl.Boolean(),  # quality good and a number
    "in_state": pl.Boolean(),  # the plant was in a state in which it means something, nobody at work on it
    "stuck": pl.Boolean(),  # part of a run of identical values that is too long to be chance
    "usable": pl.Boolean(),  # good, in state, not stuck, within the instrument's span
}
"""The record as it stands in the archive, judged in columns beside it; nothing is left out."""

DAILY: Schema = {
    "day": pl.Date(),
    "value": pl.Float64(),  # median of the usable readings less their hour-of-day habit; null when too few
    "readings": pl.UInt32(),
    "level": pl.Float64(),  # the day's plain median
}

SPANS: Schema = {"start": TIME, "end": TIME}
"""Ascending and apart: ``start <= t < end``."""

STUCK: Schema = {
    "start": TIME,
    "end": TIME,  # the last repeat plus one step, or the next different reading
    "crossed": TIME,  # when it had lasted longer than chance allows
    "readings": pl.UInt32(),
    "value": pl.Float64(),
    "allowed_minutes": pl.Float64(),
}

PAIRS: Schema = {
    "time": TIME,
    "day": pl.Date(),
    "grab": pl.Float64(),
    "reading": pl.Float64(),  # median of the five readings nearest the grab
}


SAMPLES: Schema = {
    "time": TIME,
    "value": pl.Float64(),
    "below": pl.Boolean(),  # reported as less than `value`
}


@dataclass(frozen=True)
class Case:
    """One tag in one window.

    Parameters
    ----------
    tag, instrument : Tag, Instrument or None
        From the config.
    zone : tzinfo
        The plant's.
    as_of : datetime
        Nothing at or after this instant is known [UTC].
    readings : DataFrame of READINGS
        Sorted by time.
    daily : DataFrame of DAILY
        One row a local day from the first to the last reading.
    stuck : DataFrame of STUCK
        Runs of identical usable values that were too long to be chance.
    pairs : DataFrame of PAIRS
        Lab grabs, each with what the instrument showed then.
    services : DataFrame of CALIBRATIONS
        Logged services of the instrument, oldest first.
    masked : DataFrame of ``start, end``
        Spans in which the reading means nothing: out of state, or someone at work on it.
    samples : DataFrame of SAMPLES
        The lab's results of the same water, ascending.
    exported : DataFrame of SPANS, optional
        Times of which exports were delivered, whatever the tag; None where that is not known.
    thinned : bool
        Lately its readings mostly repeat the one before: thinned out by the recorder or coarse, so that
        a stuck one cannot be told.
    """

    tag: Tag
    instrument: Instrument | None
    zone: tzinfo
    as_of: datetime
    readings: pl.DataFrame
    daily: pl.DataFrame = field(default_factory=lambda: empty(DAILY))
    stuck: pl.DataFrame = field(default_factory=lambda: empty(STUCK))
    pairs: pl.DataFrame = field(default_factory=lambda: empty(PAIRS))
    services: pl.DataFrame = field(default_factory=lambda: empty(CALIBRATIONS))
    masked: pl.DataFrame = field(default_factory=lambda: empty(SPANS))
    samples: pl.DataFrame = field(default_factory=lambda: empty(SAMPLES))
    exported: pl.DataFrame | None = None
    thinned: bool = False

    @property
    def step(self) -> timedelta:
        """Nominal time from one reading to the next."""
        return timedelta(seconds=self.tag.step_s)

    @property
    def hold(self) -> timedelta:
        """How long a reading stands when no other follows."""
        return self.tag.hold

    @property
    def quiet(self) -> timedelta:
        """Longest silence between two readings while the tag is alive."""
        return self.tag.quiet

    def standing(self, good: pl.Expr) -> pl.DataFrame:
        """Return the record as it stood, reading after reading.

        Parameters
        ----------
        good : polars expression
            Over READINGS: which of them stand. The others end what stood before them.

        Returns
        -------
        DataFrame of ``time, value, good``
            Ascending. A value that would stand until the next one, however long, ends with a row that
            is not good where the exports end: of the time that no export covers nobody knows anything.
        """
        rows = self.readings.select("time", "value", good.alias("good"))
        return ended(rows, self.exported) if self.tag.stands_until_the_next else rows

    @property
    def device(self) -> str:
        """The instrument's id; the tag where it has none of its own."""
        return self.instrument.instrument if self.instrument else self.tag.tag

    def tolerance_at(self, reading: float) -> float | None:
        """Admissible error [unit of the tag] at `reading`."""
        return self.instrument.tolerance_at(reading) if self.instrument else None


def ended(rows: pl.DataFrame, exported: pl.DataFrame | None) -> pl.DataFrame:
    """Add a row ``time, null, not good`` at every end of the exported spans that holds no reading.

    Parameters
    ----------
    rows : DataFrame of ``time, value, good``
        Ascending.
    exported : DataFrame of SPANS or None
    """
    if exported is None or exported.height == 0:
        return rows
    ends = exported.select(pl.col("end").alias("time")).join(rows, on="time", how="anti")
    marks = ends.with_columns(pl.lit(None, pl.Float64).alias("value"), pl.lit(False).alias("good"))
    return pl.concat([rows, marks]).sort("time")
