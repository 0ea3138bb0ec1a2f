"""Gap: a stretch without a good reading, whether none was stored or those there are were marked bad."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
import polars as pl

from pipeline.case import Case
from pipeline.epoch import MICROSECOND, epoch_us
from pipeline.finding import Finding
from pipeline.recording import of_recording
from pipeline.wording import moment, span


@dataclass(frozen=True)
class Settings:
    """How long nothing may be known."""

    longest_minutes: float = 120.0
    """Longest stretch without a good reading that is not worth a word [min]. Common practice, no source."""

    longest_steps: float = 4.0
    """The same in recording steps, for tags that are recorded rarely; the longer of the two holds."""


def find(case: Case, settings: Settings) -> Iterator[Finding]:
    """Yield a finding for every stretch without a good reading that is longer than allowed.

    A tag recorded on change is silent from its heartbeat on; without a heartbeat only a bad reading, or
    the end of the exports, tells that its value stands no longer.
    """
    if case.readings.height == 0:
        return
    allowed = max(timedelta(minutes=settings.longest_minutes), settings.longest_steps * case.step)
    if _is_unbroken(case, allowed):
        return
    for start, until in _waits(case).filter(pl.col("until") - pl.col("start") > allowed).iter_rows():
        lasts = until == case.as_of
        yield of_recording(
            case,
            kind="gap",
            severity="watch" if lasts else "note",
            crossed=(start + allowed).astimezone(case.zone).date(),
            lasted=(start, None if lasts else until),
            evidence=_evidence(case, start, until, lasts),
        )


def _is_unbroken(case: Case, allowed: timedelta) -> bool:
    """Whether good readings follow each other closely enough from first to last; most records do."""
    good = case.readings["good"]
    time = (
        (case.readings["time"] if good.all() else case.readings["time"].filter(good)).to_physical().to_numpy()
    )
    if len(time) == 0 or time[0] != epoch_us(case.readings["time"][0]):
        return False
    longest = max(int(np.diff(time).max(initial=0)), epoch_us(case.as_of) - int(time[-1]))
    return longest <= allowed // MICROSECOND


def _waits(case: Case) -> pl.DataFrame:
    """Return ``start, until``: from when the value of a good reading is due anew, to the next good one."""
    rows = case.standing(pl.col("good")).select("time", "good")
    # A record that begins with readings marked bad has been waiting for a good one from its start.
    first: datetime = rows["time"][0]
    edge = pl.DataFrame({"time": [first - case.quiet], "good": [True]}, schema=rows.schema)
    following = pl.col("time").shift(-1).fill_null(case.as_of)
    due = pl.col("time") + case.quiet
    if case.tag.recording == "on change":
        due = pl.min_horizontal(due, following)
    dated = pl.concat([edge, rows]).with_columns(due.alias("start")).filter("good")
    return dated.select("start", following.alias("until"))


def _evidence(case: Case, start: datetime, until: datetime, lasts: bool) -> str:
    marked = case.readings.filter((pl.col("time") >= start) & (pl.col("time") < until)).height
    what = f"{marked} readings arrived marked bad" if marked else "none was stored"
    when = f"since {moment(start, case.zone)}" if lasts else f"from {moment(start, case.zone)}"
    return f"No good reading for {span(until - start)} {when}; {what}."
