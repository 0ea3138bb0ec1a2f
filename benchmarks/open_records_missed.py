"""Missed stretches of probe records, one by one: what people said, what it read, what was found near."""

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta, timezone

import polars as pl

from benchmarks.open_records_labels import TAGS
from benchmarks.open_records_probe import KINDS, Station, offset_of
from benchmarks.open_records_scoring import Event, Told, is_found

DAY = timedelta(days=1)
NEAR = timedelta(days=3)
COLUMNS = {tag: column for column, tag in TAGS.items()}


def missed_lines(found: Sequence[Station]) -> list[str]:
    """Return a few lines for every stretch that was not named, of the kinds that have a target.

    Times are the station's standard time; the days counted are those on which the tag had been recorded.
    """
    wanted = [(kind, at_least) for _, kind, at_least, _, (target, _) in KINDS if target is not None]
    return [line for one in found for kind in wanted for line in _of(one, *kind)]


def _of(one: Station, kind: str, at_least: timedelta) -> Iterator[str]:
    for event in one.events:
        if kind in event.kinds and event.lasted(at_least) and not is_found(event, one.told):
            yield from _lines(one, kind, event)


def _lines(one: Station, kind: str, event: Event) -> Iterator[str]:
    zone = timezone(timedelta(hours=offset_of(one.name)))
    readings = one.good[event.tag]
    flagged = (event.flagged or event.end - event.begin) / timedelta(hours=1)
    yield (
        f"{one.name} {COLUMNS[event.tag]}, {kind}: {_text(event.begin, zone)} to {_text(event.end, zone)}, "
        f"{flagged:.1f} h {'rejected' if event.is_sure else 'suspect'} as {', '.join(sorted(event.kinds))}"
    )
    known = readings.filter(pl.col("time") < event.begin)["time"].dt.date().n_unique()
    later = readings.filter(pl.col("time") >= event.end)["time"].head(1)
    again = later[0] if len(later) else event.end
    spans = (event.begin - DAY, event.begin), (event.begin, event.end), (again, again + DAY)
    before, during, after = (_read(readings, *span) for span in spans)
    yield f"  recorded on {known} days before; read {during}; a day before {before}, a day after {after}"
    for told in one.told:
        if told.tag == event.tag and _is_near(told, event):
            listed = "listed" if told.is_listed else "for the record"
            yield f"  {told.kind} from {_text(told.start, zone)}, known {_text(told.known, zone)}, {listed}"


def _read(readings: pl.DataFrame, begin: datetime, end: datetime) -> str:
    """Median, lowest and highest reading."""
    values = readings.filter((pl.col("time") >= begin) & (pl.col("time") < end))["value"]
    return f"{values.median():g} ({values.min():g} to {values.max():g})" if len(values) else "nothing"


def _is_near(told: Told, event: Event) -> bool:
    return told.start <= event.end + NEAR and (told.end is None or told.end >= event.begin - NEAR)


def _text(time: datetime, zone: timezone) -> str:
    return f"{time.astimezone(zone):%Y-%m-%d %H:%M}"
