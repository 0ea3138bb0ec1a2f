"""Case: all that is known of one tag up to one instant; what checks and limits judge by."""

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta, tzinfo
from typing import Any, TypeVar

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.config.instruments import Instrument
from pipeline.config.tags import Tag
from pipeline.epoch import MICROSECOND, day_number
from pipeline.facts import (
    CONTRADICTIONS,
    COPIES,
    DAILY,
    PAIRS,
    PAUSES,
    SAMPLES,
    SPANS,
    STANDSTILLS,
    STUCK,
    TWIN_DAYS,
)
from pipeline.table import CALIBRATIONS, TIME, empty

T = TypeVar("T")
Instants = int | NDArray[np.int64]

RESTARTS = ("calibration", "cleaning", "replacement")
"""Kinds of service after which an error begins anew; a check changes nothing."""

AT_SERVICE = timedelta(hours=2)
"""So near a logged service it reads buffers, standards or air. Common practice, no source."""


@dataclass(frozen=True)
class Relation:
    """What other instruments let expect of a tag, by physics or because they stand in the same water.

    Parameters
    ----------
    reference : str
        As findings name it: ``twin LIT-302``, ``pressure PIT-301``, ``water balance Filters``.
    days : DataFrame of RELATION_DAYS
        Ascending.
    parties : tuple of Case
        All whose readings it rests on, this tag's among them, in the config's order. What they are
        related to themselves is left out.
    law : str
        What ties them together, for the evidence.
    is_share : bool
        Whether `days` holds shares of the reading although the tag's errors are amounts: no error of
        this tag can be named then.
    is_pace : bool
        Whether it is a controller's output for an analyser in its own loop.
    cornered : mapping of str to set of date
        Days on which a party was at odds with instruments of another relation as well.
    bystanders : frozenset of str
        Parties whose error could not last in it.
    """

    reference: str
    days: pl.DataFrame
    parties: "tuple[Case, ...]"
    law: str
    is_share: bool = False
    is_pace: bool = False
    cornered: Mapping[str, frozenset[date]] = field(default_factory=dict)
    bystanders: frozenset[str] = frozenset()


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
        As recorded, sorted by time.
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
    untold : DataFrame of SPANS
        Spans of which nobody knows whether the reading means something: the state's own record is missing.
    uncertain : Series of Datetime
        When a reading came with a number of uncertain quality (``>4`` of a display at its end among them).
    runs : DataFrame of SPANS
        For how long on end the state of `Tag.valid_when` held, each from the moment at which it began; a run
        whose beginning was not seen is not among them.
    samples : DataFrame of SAMPLES
        The lab's results of the same water, ascending.
    exported : DataFrame of SPANS, optional
        Times of which exports were delivered, whatever the tag; None where that is not known.
    twin : Case or None
        All that is known of the tag's twin (`Tag.twin`: another instrument in the same water), as far as
        its own `as_of`: its readings, services, grabs, daily values. Its own `twin` is None.
    twin_days : DataFrame of TWIN_DAYS
        One row a local day on which both could be compared; empty without a twin.
    pauses : DataFrame of PAUSES
        Its own runs of identical values.
    standstills, copies : DataFrame of STANDSTILLS, COPIES
        What it does together with other tags.
    relations : tuple of Relation
        What other tags, by physics or as twins, let expect of it.
    contradictions : DataFrame of CONTRADICTIONS
        Where it denies what its pump or valve says.
    company : tuple of Case
        Other tags of an analyser's area, or the other flow meters of a flow's: what moves together with them
        is the process or the water.
    at_work : DataFrame of SPANS
        When someone was at work on it.
    thinned : bool
        Lately its readings mostly repeat the one before: thinned out by the recorder or coarse, so that
        a stuck one cannot be told.
    stepped : DataFrame of READINGS or None
        What stood at every step (`pipeline.baseline.stepped`), of a tag recorded on change.
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
    untold: pl.DataFrame = field(default_factory=lambda: empty(SPANS))
    uncertain: pl.Series = field(default_factory=lambda: pl.Series("time", [], dtype=TIME))
    runs: pl.DataFrame = field(default_factory=lambda: empty(SPANS))
    samples: pl.DataFrame = field(default_factory=lambda: empty(SAMPLES))
    exported: pl.DataFrame | None = None
    thinned: bool = False
    twin: "Case | None" = None
    twin_days: pl.DataFrame = field(default_factory=lambda: empty(TWIN_DAYS))
    pauses: pl.DataFrame = field(default_factory=lambda: empty(PAUSES))
    standstills: pl.DataFrame = field(default_factory=lambda: empty(STANDSTILLS))
    copies: pl.DataFrame = field(default_factory=lambda: empty(COPIES))
    relations: "tuple[Relation, ...]" = ()
    contradictions: pl.DataFrame = field(default_factory=lambda: empty(CONTRADICTIONS))
    company: "tuple[Case, ...]" = ()
    at_work: pl.DataFrame = field(default_factory=lambda: empty(SPANS))
    stepped: pl.DataFrame | None = None
    _derived: dict[Any, Any] = field(init=False, default_factory=dict, compare=False, repr=False)

    def once(self, derive: Callable[["Case"], T]) -> T:
        """Return what `derive` makes of this case, worked out once, whoever asks; it is not to be written to.

        It is never carried over to a changed case.
        """
        if derive not in self._derived:
            self._derived[derive] = derive(self)
        made: T = self._derived[derive]
        return made

    def forget(self) -> None:
        """Drop what was derived: it is large, and what is still wanted of it is worked out again."""
        self._derived.clear()

    @property
    def regular(self) -> pl.DataFrame:
        """READINGS at regular steps: what an instrument is judged by."""
        return self.readings if self.stepped is None else self.stepped

    @property
    def pace(self) -> timedelta:
        """Time from one of `regular` to the next."""
        return self.tag.pace

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
    def is_lab_alone(self) -> bool:
        """Whether only the lab measures it: it has results, and neither an instrument nor a reading."""
        return self.instrument is None and self.readings.is_empty() and not self.samples.is_empty()

    @property
    def device(self) -> str:
        """The instrument's id; the tag where it has none of its own."""
        return self.instrument.instrument if self.instrument else self.tag.tag

    def serviced_on(self, kinds: Collection[str] | None = None) -> list[float]:
        """Local day of every service, oldest first, or of those `kinds` alone [days since 1970-01-01]."""
        return [day for kind, day in self.once(_service_days) if kinds is None or kind in kinds]

    def at_service(self, start_us: Instants, end_us: Instants) -> NDArray[np.bool_]:
        """Whether somebody was at the instrument between two instants, as the logbook tells the hour.

        Parameters
        ----------
        start_us, end_us : int or (n,) array
            [microseconds since 1970, UTC]
        """
        times = np.sort(self.services["time"].dt.epoch("us").to_numpy())
        near = AT_SERVICE // MICROSECOND
        first, last = np.searchsorted(times, start_us - near), np.searchsorted(times, end_us + near, "right")
        return np.asarray(first < last)

    def tolerance_at(self, reading: float) -> float | None:
        """Admissible error [unit of the tag] at `reading`."""
        return self.instrument.tolerance_at(reading) if self.instrument else None


def _service_days(case: Case) -> list[tuple[str, float]]:
    """Return kind and local day of every service, oldest first [days since 1970-01-01]."""
    days = [day_number(time.astimezone(case.zone).date()) for time in case.services["time"]]
    return list(zip(case.services["kind"], days, strict=True))


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
