"""Gap: a stretch without a good reading, whether nothing arrived or what arrived was marked bad."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

import polars as pl

from pipeline.advice import check_first
from pipeline.case import Case
from pipeline.finding import Finding
from pipeline.wording import moment, span


@dataclass(frozen=True)
class Settings:
    """How long nothing may be known."""

    longest_minutes: float = 120.0
    """Longest stretch without a good reading that is not worth a word [min]. Common practice, no source."""

    longest_steps: float = 4.0
    """The same in recording steps, for tags that are recorded rarely; the longer of the two holds."""


def find(case: Case, settings: Settings) -> Iterator[Finding]:
    """Yield a finding for every stretch without a good reading that is longer than allowed."""
    if case.tag.recording == "on change" or case.readings.height == 0:
        return
    allowed = max(timedelta(minutes=settings.longest_minutes), settings.longest_steps * case.step)
    good = case.readings.filter("good").select("time")
    edges = pl.concat([good, pl.DataFrame({"time": [case.as_of]}, schema=good.schema)])
    waits = edges.select(pl.col("time").alias("until"), pl.col("time").shift(1).alias("last")).drop_nulls()
    for until, last in waits.filter(pl.col("until") - pl.col("last") > allowed + case.step).iter_rows():
        start = last + case.step
        lasts = until == case.as_of
        yield Finding(
            tag=case.tag.tag,
            instrument=case.device,
            kind="gap",
            severity="watch" if lasts else "note",
            crossed=(start + allowed).astimezone(case.zone).date(),
            start=start,
            end=None if lasts else until,
            reference="own recording",
            evidence=_evidence(case, start, until, lasts),
            check_first=check_first("gap", case.tag.measures),
            unit=case.tag.unit,
        )


def _evidence(case: Case, start: datetime, until: datetime, lasts: bool) -> str:
    marked = case.readings.filter((pl.col("time") >= start) & (pl.col("time") < until)).height
    what = f"{marked} readings arrived marked bad" if marked else "nothing arrived"
    when = f"since {moment(start, case.zone)}" if lasts else f"from {moment(start, case.zone)}"
    return f"No good reading for {span(until - start)} {when}; {what}."
