"""Coverage: how much of a period each tag's record covers."""

from datetime import datetime, timedelta

import numpy as np
import polars as pl

from pipeline.case import Case
from pipeline.clock import Period
from pipeline.episodes import held
from pipeline.epoch import epoch_us
from pipeline.facts import SPANS
from pipeline.table import TIME, Schema, empty

COVERAGE: Schema = {
    "tag": pl.String(),
    "expected": pl.UInt32(),
    "present": pl.UInt32(),
    "good": pl.UInt32(),
    "coverage_pct": pl.Float64(),
    "longest_gap_minutes": pl.Float64(),
    "last_seen": TIME,
}


def coverage(cases: dict[str, Case], period: Period) -> pl.DataFrame:
    """Return one row a tag, in the config's order, as COVERAGE.

    ``coverage_pct`` is good over expected readings, at most 100; ``longest_gap_minutes`` the longest
    time without a good reading, beyond the recording step. Of a tag recorded on change nobody can say
    how many readings to expect: as many as there are, and its coverage is the share of the time for
    which a value stands.
    """
    return pl.DataFrame([_row(case, period) for case in cases.values()], schema=COVERAGE)


def _row(case: Case, period: Period) -> dict[str, object]:
    end = min(period.end, case.as_of)
    here = case.readings.filter((pl.col("time") >= period.start) & (pl.col("time") < end))
    good = here.filter("good")
    length = end - period.start
    seen = case.readings.filter("good")["time"]
    if case.is_lab_alone:
        return {"tag": case.tag.tag, "expected": 0, "present": 0, "good": 0}
    if case.tag.recording == "on change":
        return _on_change(case, period.start, end, here, good, seen)
    expected = max(length // case.step, 0)
    return {
        "tag": case.tag.tag,
        "expected": expected,
        "present": here.height,
        "good": good.height,
        "coverage_pct": min(100.0 * good.height / expected, 100.0) if expected else 0.0,
        "longest_gap_minutes": _longest_gap(good["time"], period.start, end, case.step),
        "last_seen": seen[-1] if len(seen) else None,
    }


def _on_change(
    case: Case, start: datetime, end: datetime, here: pl.DataFrame, good: pl.DataFrame, seen: pl.Series
) -> dict[str, object]:
    """Return the row of a tag recorded on change: a value covers the time until the next one."""
    begin = min(start, seen[0]) if len(seen) else start
    record = held(case.standing(pl.col("good")), empty(SPANS), case.hold, begin, case.as_of)
    part = record.between(start, end)
    length_minutes = (end - start) / timedelta(minutes=1)
    return {
        "tag": case.tag.tag,
        "expected": here.height,
        "present": here.height,
        "good": good.height,
        "coverage_pct": 100.0 * part.known_minutes / length_minutes if length_minutes > 0 else 0.0,
        "longest_gap_minutes": part.longest_unknown_minutes,
        "last_seen": seen[-1] if len(seen) else None,
    }


def _longest_gap(good: pl.Series, start: datetime, end: datetime, step: timedelta) -> float:
    edges = np.concatenate([[epoch_us(start - step)], good.dt.epoch("us").to_numpy(), [epoch_us(end)]])
    longest = timedelta(microseconds=int(np.diff(edges).max())) - step
    return max(longest / timedelta(minutes=1), 0.0)
