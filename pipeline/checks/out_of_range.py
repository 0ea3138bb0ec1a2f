"""Out of range: readings that the instrument's span cannot hold."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

import polars as pl

from pipeline.advice import check_first
from pipeline.baseline.ends import extremes
from pipeline.case import Case
from pipeline.finding import Finding
from pipeline.wording import number, span


@dataclass(frozen=True)
class Settings:
    """What is more than a blip."""

    fewest_minutes: float = 15.0
    """Shortest stretch beyond the span that is worth a word [min]. Common practice, no source."""

    apart_hours: float = 336.0
    """Stretches less than this apart are one finding: what leaves its span each noon is one trouble [h]."""


def find(case: Case, settings: Settings) -> Iterator[Finding]:
    """Yield a finding for every stretch of readings below the span's low end or above its high end.

    What is recorded while nobody counts on it (out of state, someone at work on it) is no fault.
    """
    low, high = case.tag.low, case.tag.high
    lowest, highest = extremes(case.readings)
    # Most records never leave the span.
    if (low is None or lowest >= low) and (high is None or highest <= high):
        return
    beyond = pl.lit(False)
    if low is not None:
        beyond = beyond | (pl.col("value") < low)
    if high is not None:
        beyond = beyond | (pl.col("value") > high)
    if not case.readings.select((beyond & pl.col("good")).any()).item():
        return
    counting = case.readings.filter(pl.col("good") & pl.col("in_state"))
    until = pl.col("time").shift(-1).fill_null(case.as_of)
    stood = pl.min_horizontal(until - pl.col("time"), pl.lit(case.hold))
    marked = counting.select("time", "value", beyond.alias("beyond"), stood.alias("stood"))
    hits = marked.filter("beyond")
    apart = timedelta(hours=settings.apart_hours)
    parted = (pl.col("time") - pl.col("time").shift(1) >= apart).fill_null(True)
    for _, group in hits.with_columns(parted.cum_sum().alias("spell")).group_by("spell", maintain_order=True):
        finding = _finding(case, settings, group, marked["time"][-1])
        if finding is not None:
            yield finding


def _finding(case: Case, settings: Settings, hits: pl.DataFrame, newest: object) -> Finding | None:
    """Return the finding of one spell; its bar is crossed when the readings add up to the least time."""
    fewest = timedelta(minutes=settings.fewest_minutes)
    total = pl.col("stood").cum_sum()
    summed = hits.with_columns((pl.col("time") + pl.col("stood") - (total - fewest)).alias("told"))
    enough = summed.filter(total >= fewest)
    if enough.height == 0:
        return None
    # What is told at midnight was known of the day before.
    told: datetime = enough["told"][0] - timedelta(microseconds=1)
    lasts = hits["time"][-1] == newest
    stood: timedelta = summed.select(total)["stood"][-1]
    return Finding(
        tag=case.tag.tag,
        instrument=case.device,
        kind="out_of_range",
        severity="act" if lasts else "watch",
        crossed=told.astimezone(case.zone).date(),
        start=hits["time"][0],
        end=None if lasts else hits["time"][-1] + hits["stood"][-1],
        reference="instrument's span",
        evidence=_evidence(case, hits, stood),
        check_first=check_first("out_of_range", case.tag.measures),
        unit=case.tag.unit,
    )


def _evidence(case: Case, hits: pl.DataFrame, total: timedelta) -> str:
    tag = case.tag
    low, high = hits["value"].min(), hits["value"].max()
    assert isinstance(low, float) and isinstance(high, float)
    shown = number(tag, low) if low == high else f"{number(tag, low)} to {number(tag, high)}"
    ends = [number(tag, end) for end in (tag.low, tag.high) if end is not None]
    stretches = hits.select(
        (pl.col("time") - pl.col("time").shift(1) > pl.col("stood").shift(1)).sum()
    ).item()
    often = f" in {stretches + 1} stretches" if stretches else ""
    return f"Read {shown} for {span(total)}{often}, beyond its span of {' to '.join(ends)}."
