"""Gather: what the archive, logbook and config held at one instant, read for the casebook."""

from collections.abc import Callable, Collection, Iterator
from datetime import datetime, timedelta

import polars as pl

from pipeline.archive.ledger import read_ledger
from pipeline.archive.trends import read
from pipeline.baseline.states import union
from pipeline.case import Case
from pipeline.casebook import Samples, Source, cases_of, record_of
from pipeline.config.expressions import parse
from pipeline.config.load import Plant
from pipeline.config.tags import HOLD_STEPS
from pipeline.facts import SPANS
from pipeline.logbook.book import Logbook


def gather(plant: Plant, logbook: Logbook, as_of: datetime) -> dict[str, Case]:
    """Return all that was known of every tag before `as_of`.

    Parameters
    ----------
    plant : Plant
    logbook : Logbook
        Whole; what lies at or after `as_of` is left out here.
    as_of : datetime
        Nothing at or after it is looked at [UTC].

    Returns
    -------
    dict of str to Case
        In the config's order.
    """
    # The whole past: a window that moves with the week would move the ids of old findings with it.
    book, reader = logbook.until(as_of), _reader(plant, as_of)
    return cases_of(Source(plant, book, as_of, reader, _exported(plant, as_of)))


def gather_window(
    plant: Plant, logbook: Logbook, since: datetime, as_of: datetime, tags: Collection[str]
) -> dict[str, Case]:
    """Return the records of some tags over a stretch of time, judged by quality, state and span alone.

    Only ``since <= time < as_of`` is read, so that it does not grow with the archive. That a reading was
    stuck is not told: it takes more past.
    """
    return dict(records(plant, logbook, since, as_of, tags))


def records(
    plant: Plant, logbook: Logbook, since: datetime, as_of: datetime, tags: Collection[str]
) -> Iterator[tuple[str, Case]]:
    """Yield tags and their records one by one, as `gather_window` returns them all."""
    reader = _window_reader(plant, since, as_of, tags)
    source = Source(plant, logbook.until(as_of), as_of, reader, _exported(plant, as_of))
    yield from ((name, record_of(source, tag)) for name, tag in plant.tags.items() if name in tags)


def _exported(plant: Plant, as_of: datetime) -> pl.DataFrame:
    """Return the times before `as_of` of which exports were delivered, as SPANS.

    Each delivery reaches as far as its last reading stands, so that weekly exports join up.
    """
    steps = [tag.step_s for tag in plant.tags.values() if tag.recording == "interval"]
    reach = timedelta(seconds=HOLD_STEPS * max(steps, default=0.0))
    rows = [
        (one.first_time, min(one.last_time + reach, as_of))
        for one in read_ledger(plant.archive)
        if one.first_time and one.last_time and one.first_time < as_of
    ]
    return union([pl.DataFrame(rows, SPANS, orient="row")])


def _reader(plant: Plant, as_of: datetime) -> Callable[[str], Samples]:
    """Return a function that reads one tag; those that conditions speak of are kept in memory."""
    spoken_of = _spoken_of(plant)
    kept: dict[str, Samples] = {}

    def samples(tag: str) -> Samples:
        if tag in kept:
            return kept[tag]
        found = _samples(read(plant.archive, tags=[tag], end=as_of)).drop("tag").sort("time").collect()
        if tag in spoken_of:
            kept[tag] = found
        return found

    return samples


def _window_reader(
    plant: Plant, since: datetime, as_of: datetime, tags: Collection[str]
) -> Callable[[str], Samples]:
    """Return the same for a window, of which all tags of an area are read in one go."""
    spoken_of = _spoken_of(plant)
    wanted = {*tags, *spoken_of}
    waiting: dict[str, Samples] = {}

    def samples(tag: str) -> Samples:
        if tag not in waiting:
            area = plant.tags[tag].area
            beside = wanted & {one.tag for one in plant.tags.values() if one.area == area}
            every = _samples(read(plant.archive, beside, since, as_of)).sort("tag", "time").collect()
            parts = every.partition_by("tag", as_dict=True, include_key=False)
            nothing = every.clear().drop("tag")
            waiting.update({name: parts.get((name,), nothing) for name in beside})
        return waiting[tag] if tag in spoken_of else waiting.pop(tag)

    return samples


def _samples(rows: pl.LazyFrame) -> pl.LazyFrame:
    """Return ``tag, time, value`` and how good a number each reading is."""
    number = pl.col("value").is_not_null()
    marks = {word: (pl.col("quality") == word) & number for word in ("good", "uncertain")}
    return rows.select("tag", "time", "value", **marks)


def _spoken_of(plant: Plant) -> set[str]:
    """Tags and states that conditions speak of."""
    texts = [state.when for state in plant.states.values()] + [tag.valid_when for tag in plant.tags.values()]
    return {name for text in texts if text for name in parse(text).names}
