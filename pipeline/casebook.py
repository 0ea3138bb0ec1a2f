"""Casebook: samples, logbook and config put together into one Case a tag."""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta, tzinfo

import polars as pl

from pipeline.baseline.daily import daily_values
from pipeline.baseline.ice import at_ice
from pipeline.baseline.pairs import IN_PLACE, pairs
from pipeline.baseline.states import begun, changes, condition_of, settled, settling, spans, union, within
from pipeline.baseline.stepped import is_stepped, stepped
from pipeline.baseline.stuck import pauses, resting_below, stuck_of
from pipeline.baseline.thinned import is_thinned
from pipeline.baseline.twins import beside_twin
from pipeline.case import Case, ended
from pipeline.clock import to_local
from pipeline.config.instruments import Instrument
from pipeline.config.load import Plant
from pipeline.config.tags import Tag
from pipeline.config.tolerances import with_default
from pipeline.facts import PAUSES, READINGS, SAMPLES, SPANS
from pipeline.logbook.book import Logbook
from pipeline.neighbours.join import with_neighbours
from pipeline.table import conform, empty

Samples = pl.DataFrame
"""``time, value, good`` of one tag and, where that was recorded, ``uncertain``."""


@dataclass(frozen=True)
class Source:
    """Where a case's parts come from.

    Parameters
    ----------
    plant : Plant
    logbook : Logbook
        Of what was written down before `as_of`.
    as_of : datetime
        Nothing at or after it is known [UTC].
    samples : callable
        From a tag's name to its samples before `as_of`, ascending.
    exported : DataFrame of SPANS
        Times of which anything was delivered.
    """

    plant: Plant
    logbook: Logbook
    as_of: datetime
    samples: Callable[[str], Samples]
    exported: pl.DataFrame
    kept: "dict[str, _Held]" = field(init=False, repr=False, compare=False, default_factory=dict)
    """Conditions that several tags share, each worked out once."""

    def held(self, text: str) -> "_Held":
        """Return when a state, or a condition as the config writes it, held."""
        if text not in self.kept:
            self.kept[text] = _held(self, text)
        return self.kept[text]


@dataclass(frozen=True)
class _Held:
    """When a condition held: long enough to count, not or not yet, its runs seen from the beginning.

    And when it was seen to change.
    """

    settled: pl.DataFrame
    masked: pl.DataFrame
    runs: pl.DataFrame
    changes: pl.Series


def cases_of(source: Source) -> dict[str, Case]:
    """Return all that was known of every tag, in the config's order; the samples may come from anywhere."""
    plant = source.plant
    alone = {name: _case(source, tag) for name, tag in plant.tags.items()}
    paired = {name: with_twin(case, alone.get(case.tag.twin)) for name, case in alone.items()}
    return with_neighbours(paired, plant.file.physics, plant.states)


def record_of(source: Source, tag: Tag) -> Case:
    """Return a tag's record as it is judged by quality, state and span alone; nothing is derived from it."""
    samples = source.samples(tag.tag)
    service = _in_service(source, tag, samples)
    in_state = service.counts
    readings = samples.with_columns(within(samples["time"], in_state).alias("in_state"), stuck=pl.lit(False))
    counts = pl.col("good") & pl.col("in_state") & _in_span(tag)
    return Case(
        tag=tag,
        instrument=source.plant.instruments.get(tag.instrument),
        zone=source.plant.zone,
        as_of=source.as_of,
        readings=conform(readings.with_columns(usable=counts), READINGS),
        masked=service.masked,
        untold=service.untold,
        uncertain=_uncertain(samples),
        exported=source.exported,
    )


def with_twin(case: Case, twin: Case | None) -> Case:
    """Return a case that also knows its twin; without one the case as it is."""
    if twin is None or twin.tag.tag == case.tag.tag:
        return case
    return replace(case, twin=replace(twin, twin=None), twin_days=beside_twin(case, twin))


def _case(source: Source, tag: Tag) -> Case:
    plant = source.plant
    samples = source.samples(tag.tag)
    service = _in_service(source, tag, samples)
    results = source.logbook.grabs.filter(pl.col("tag") == tag.tag)
    # A result "less than" says nothing of the instrument's error.
    grabs = results.filter(~pl.col("below")).select("time", "value")
    services = source.logbook.calibrations.filter(pl.col("instrument") == tag.instrument).sort("time")
    instrument = with_default(plant.instruments.get(tag.instrument), tag)
    changed = source.held(tag.valid_when).changes if tag.valid_when and samples.height else None
    told = (samples, service.counts, service.masked)
    case = case_of(tag, instrument, plant.zone, source.as_of, *told, grabs, services, changed)
    return replace(
        case,
        exported=source.exported,
        samples=conform(results.sort("time"), SAMPLES),
        at_work=_maintenance(source, tag),
        untold=service.untold,
        uncertain=_uncertain(samples),
        runs=service.runs,
    )


def case_of(
    tag: Tag,
    instrument: Instrument | None,
    zone: tzinfo,
    as_of: datetime,
    samples: Samples,
    in_state: pl.DataFrame,
    masked: pl.DataFrame,
    grabs: pl.DataFrame,
    services: pl.DataFrame,
    changed: pl.Series | None = None,
) -> Case:
    """Return the case of one tag: its record judged reading by reading, and what is derived from it.

    Parameters
    ----------
    tag, instrument, zone, as_of
        As in `Case`.
    samples : DataFrame
        ``time, value, good`` before `as_of`, ascending.
    in_state, masked : DataFrame of SPANS
        When the reading counts; when it is known not to.
    grabs : DataFrame
        ``time, value`` [unit of the tag].
    services : DataFrame of CALIBRATIONS
    changed : Series of Datetime, optional
        When the state of `Tag.valid_when` was seen to begin or end, ascending.
    """
    local_day = to_local(pl.col("time"), zone).dt.date()
    recorded = _sound(tag, samples, in_state)
    judged = _sound(tag, stepped(tag, samples), in_state) if is_stepped(tag) else recorded
    paused, thinned = _pauses(tag, judged, zone), is_thinned(tag, recorded, as_of)
    stuck = stuck_of(paused)
    readings = _usable(recorded, stuck)
    at_steps = None if judged is recorded else _usable(judged, stuck)
    regular = readings if at_steps is None else at_steps
    # What is read in place is compared at a minute that is known.
    carried = instrument is not None and tag.measures not in IN_PLACE
    return Case(
        tag=tag,
        instrument=instrument,
        zone=zone,
        as_of=as_of,
        readings=readings,
        daily=daily_values(tag, regular, stuck, zone),
        stuck=stuck,
        pairs=pairs(
            regular,
            grabs,
            tag.pace,
            local_day,
            stuck,
            instrument.tolerance_at if instrument is not None and carried else None,
            changed if carried else None,
        ),
        services=services,
        masked=masked,
        pauses=paused,
        thinned=thinned,
        stepped=at_steps,
    )


def _sound(tag: Tag, samples: pl.DataFrame, in_state: pl.DataFrame) -> pl.DataFrame:
    readings = samples.with_columns(within(samples["time"], in_state).alias("in_state"))
    freezing = at_ice(tag, samples)
    moves = pl.lit(True) if freezing is None else ~freezing
    return readings.with_columns((pl.col("good") & pl.col("in_state") & _in_span(tag) & moves).alias("sound"))


def _usable(readings: pl.DataFrame, stuck: pl.DataFrame) -> pl.DataFrame:
    readings = readings.with_columns(within(readings["time"], stuck).alias("stuck"))
    return conform(readings.with_columns(usable=pl.col("sound") & ~pl.col("stuck")), READINGS)


def _in_span(tag: Tag) -> pl.Expr:
    low = pl.col("value") >= tag.low if tag.low is not None else pl.lit(True)
    high = pl.col("value") <= tag.high if tag.high is not None else pl.lit(True)
    return (low & high).fill_null(False)


def _pauses(tag: Tag, readings: pl.DataFrame, zone: tzinfo) -> pl.DataFrame:
    if tag.is_state or tag.stands_until_the_next:
        return empty(PAUSES)
    found = pauses(readings, tag.pace, zone, tag.quiet if is_stepped(tag) else None)
    rest = resting_below(tag)
    return found if rest is None else found.filter(pl.col("value") > rest)


def _uncertain(samples: Samples) -> pl.Series:
    marked = samples.filter("uncertain") if "uncertain" in samples.columns else samples.clear()
    return marked["time"]


@dataclass(frozen=True)
class _Service:
    """When a tag's reading counts, when it is known not to, when that is not known; the runs of its state."""

    counts: pl.DataFrame
    masked: pl.DataFrame
    untold: pl.DataFrame = field(default_factory=lambda: empty(SPANS))
    runs: pl.DataFrame = field(default_factory=lambda: empty(SPANS))


def _in_service(source: Source, tag: Tag, samples: Samples) -> _Service:
    at_work = _maintenance(source, tag)
    if samples.height == 0:
        return _Service(empty(SPANS), at_work)
    begin, end = samples["time"][0], source.as_of
    whole = pl.DataFrame({"start": [begin], "end": [end]}, schema=SPANS)
    if not tag.valid_when:
        return _Service(_minus(whole, at_work), at_work)
    held = source.held(tag.valid_when)
    masked = union([held.masked, at_work]) if at_work.height else held.masked
    untold = _minus(whole, union([held.settled, masked]))
    return _Service(_minus(held.settled, at_work), masked, untold, held.runs)


def _held(source: Source, text: str) -> _Held:
    condition, settle = condition_of(source.plant.states, text)
    signals = {name: _signal(source, name) for name in condition.names}
    true, false = spans(condition, signals)
    masked = union([false, settling(true, settle)])
    # A run whose beginning nobody saw is none.
    return _Held(settled(true, settle), masked, begun(true, false), changes(true, false))


def _signal(source: Source, name: str) -> tuple[pl.DataFrame, timedelta]:
    tag, samples = source.plant.tags[name], source.samples(name)
    if tag.recording == "interval":
        return samples.filter("good").select("time", "value"), tag.hold
    samples = samples.select("time", "value", "good")
    rows = ended(samples, source.exported) if tag.stands_until_the_next else samples
    # A reading that is not good ends what stood before it: the state is then not known.
    return rows.select("time", pl.when("good").then("value").alias("value")), tag.hold


def _maintenance(source: Source, tag: Tag) -> pl.DataFrame:
    subjects = [tag.tag, tag.area, *([tag.instrument] if tag.instrument else [])]
    windows = source.logbook.maintenance.filter(pl.col("subject").is_in(subjects))
    ends = pl.col("end").fill_null(source.as_of)
    return union([windows.select("start", pl.min_horizontal(ends, pl.lit(source.as_of)).alias("end"))])


def _minus(spans: pl.DataFrame, cut: pl.DataFrame) -> pl.DataFrame:
    """Return the parts of `spans` that lie in none of `cut`."""
    if cut.height == 0 or spans.height == 0:
        return spans
    edges = pl.concat([spans["start"], spans["end"], cut["start"], cut["end"]]).unique().sort()
    pieces = pl.DataFrame({"start": edges[:-1], "end": edges[1:]})
    keep = within(pieces["start"], spans) & ~within(pieces["start"], cut)
    return union([pieces.filter(keep)])
