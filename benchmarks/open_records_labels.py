"""Labels: what technicians wrote beside the readings of a probe's record, as events.

Each value has a flag column ``<flag> [CODE] (COMMENT)``. Flags judge (-5 and -4 outside the sensor's range,
-3 rejected, -2 missing, 1 suspect), codes and comments say why; the legend is the reserve system's own.
Never shown to the checks.
"""

from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta, timezone
from itertools import pairwise
from pathlib import Path

import polars as pl

from benchmarks.open_records_scoring import Event

TAGS = {
    "Temp": "TIT-1", "SpCond": "AIT-1", "DO_Pct": "AIT-2", "pH": "AIT-3", "Turb": "AIT-4",
    "ChlFluor": "AIT-5", "Depth": "LIT-1",
}  # fmt: skip
"""Tag of each column of readings."""

KINDS = {
    "SPC": "rejected", "SIC": "rejected",  # post calibration out of range, incorrect calibration
    "SSD": "drift",  # sensor drift
    "SSM": "malfunction", "SCF": "malfunction", "SWM": "malfunction", "SDG": "malfunction",
    "SDP": "malfunction", "STF": "malfunction",  # malfunction, conductivity, wiper, diagnostics, membrane
    "SBO": "fouling", "CBF": "fouling",  # blocked optic, bio-fouling
    "STS": "spikes", "CTS": "spikes",  # turbidity spike
    "SCS": "spikes",  # chlorophyll spike; not in the legend, from memory
    "GOW": "out of water", "SOW": "out of water",
}  # fmt: skip
"""Kind of event that each code or comment names; the others name none."""

DEPLOYED = "(CND)"
"""Comment on the first reading of a freshly calibrated probe: what a logbook would say, and no judgement."""

SUBJECT = {"SCF": "SpCond"}
"""The failed sensor, where the code stands beside others too that are corrected with it."""

SUSPECT, REJECTED = ("1",), ("-3", "-4", "-5")
VOID = (-99.0, -1210.73, -1211.0)
"""Written where there is no number."""

BLOCK = timedelta(hours=2)
"""Shortest stretch without a number that is an event, not a technician at the probe."""

TOGETHER = timedelta(days=1)
"""Flags of the same kinds less than this apart are one event."""

STEP = timedelta(minutes=15)


@dataclass(frozen=True)
class _Stretch:
    """Rows in a row with the same kinds; of several put together, `flagged` leaves out what is between."""

    subject: str
    kinds: frozenset[str]
    is_sure: bool
    begin: datetime
    end: datetime
    flagged: timedelta


def read_record(path: Path, offset_hours: float) -> pl.DataFrame:
    """Return a record as text, with its times as UTC.

    Parameters
    ----------
    path : Path
        A record as published.
    offset_hours : float
        Of its local standard time from UTC.
    """
    text = pl.read_csv(path, infer_schema=False, encoding="utf8-lossy", truncate_ragged_lines=True)
    stamp = next(name for name in text.columns if name.lower() == "datetimestamp")
    local = pl.col(stamp).str.to_datetime("%m/%d/%Y %H:%M", strict=False)
    zone = timezone(timedelta(hours=offset_hours))
    shift = zone.utcoffset(None)
    when = (local - shift).dt.replace_time_zone("UTC").cast(pl.Datetime("us", "UTC"))
    return text.with_columns(when.alias("time")).filter(pl.col("time").is_not_null()).sort("time")


def deployments(record: pl.DataFrame) -> list[tuple[str, datetime]]:
    """Return columns and times [UTC] at which a freshly calibrated probe began to record, oldest first."""
    columns = [column for column in TAGS if f"F_{column}" in record.columns]
    found = [
        (column, time)
        for column in columns
        for time in record.filter(pl.col(f"F_{column}").str.contains(DEPLOYED, literal=True))["time"]
    ]
    return sorted(found, key=lambda one: (one[1], one[0]))


def events_of(record: pl.DataFrame) -> list[Event]:
    """Return every event of a record, by tag and begin."""
    found: dict[tuple[str, frozenset[str], bool], list[_Stretch]] = {}
    for column in TAGS:
        if column not in record.columns or not _numbers(record, column).is_not_null().any():
            continue
        for stretch in [*_flagged(record, column), *_blocks(record, column)]:
            found.setdefault((stretch.subject, stretch.kinds, stretch.is_sure), []).append(stretch)
    events = [_event(one) for stretches in found.values() for one in _together(stretches)]
    return sorted(events, key=lambda event: (event.tag, event.begin, sorted(event.kinds)))


def _event(one: _Stretch) -> Event:
    return Event(TAGS[one.subject], one.kinds, one.begin, one.end, one.is_sure, one.flagged)


def _numbers(record: pl.DataFrame, column: str) -> pl.Series:
    numbers = record[column].str.strip_chars().cast(pl.Float64, strict=False)
    return numbers.set(numbers.is_in(list(VOID)), None)


def _flagged(record: pl.DataFrame, column: str) -> list[_Stretch]:
    """Return the stretches that were rejected or thought suspect, by what is said of them."""
    text = record[f"F_{column}"].fill_null("")
    said = pl.DataFrame({"time": record["time"], "text": text}).with_columns(
        pl.col("text").str.extract(r"<(-?\d)>").alias("flag"), pl.col("text").rle_id().alias("run")
    )
    wanted = said.filter(pl.col("flag").is_in([*SUSPECT, *REJECTED]))
    runs = wanted.group_by("run", maintain_order=True).agg(
        pl.col("text").first(),
        pl.col("flag").first(),
        pl.col("time").first().alias("begin"),
        pl.col("time").last().alias("end"),
    )
    found = []
    for row in runs.iter_rows(named=True):
        words = [word for word in KINDS if f"[{word}]" in row["text"] or f"({word})" in row["text"]]
        kinds = frozenset(KINDS[word] for word in words)
        if row["flag"] in ("-4", "-5"):
            kinds |= {"block"}
        subject = next((SUBJECT[word] for word in words if word in SUBJECT), column)
        begin, end = row["begin"].astimezone(UTC), row["end"] + STEP
        found.append(_Stretch(subject, kinds, row["flag"] in REJECTED, begin, end, end - begin))
    return found


def _blocks(record: pl.DataFrame, column: str) -> list[_Stretch]:
    """Return the stretches without a number, whether lines, cells or sense are missing.

    Before its first number there was no such instrument.
    """
    known = record.filter(_numbers(record, column).is_not_null())["time"].to_list()
    edges = [*known, record["time"][-1] + STEP]
    return [
        _Stretch(column, frozenset({"block"}), True, before + STEP, after, after - before - STEP)
        for before, after in pairwise(edges)
        if after - before - STEP >= BLOCK
    ]


def _together(stretches: list[_Stretch]) -> list[_Stretch]:
    joined: list[_Stretch] = []
    for one in sorted(stretches, key=lambda stretch: stretch.begin):
        if joined and one.begin - joined[-1].end < TOGETHER:
            last = joined[-1]
            flagged = last.flagged + max(one.end - max(one.begin, last.end), timedelta())
            joined[-1] = replace(last, end=max(last.end, one.end), flagged=flagged)
        else:
            joined.append(one)
    return joined
