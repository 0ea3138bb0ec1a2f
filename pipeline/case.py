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

    @property
    def step(self) -> timedelta:
        """Nominal time from one reading to the next."""
        return timedelta(seconds=self.tag.step_s)

    @property
    def device(self) -> str:
        """The instrument's id; the tag where it has none of its own."""
        return self.instrument.instrument if self.instrument else self.tag.tag

    def tolerance_at(self, reading: float) -> float | None:
        """Admissible error [unit of the tag] at `reading`."""
        return self.instrument.tolerance_at(reading) if self.instrument else None
