"""Frozen: a running instrument that repeats itself for longer than its own past makes likely."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

import polars as pl

from pipeline.advice import check_first
from pipeline.case import Case
from pipeline.clock import to_local
from pipeline.finding import Finding
from pipeline.recording import comes_back, of_recording
from pipeline.wording import moment, number, span


@dataclass(frozen=True)
class Settings:
    """What belongs together, and what is pressing."""

    apart_days: float = 14.0
    """Runs less than this apart are one finding: a dying signal sticks again and again [d]."""

    act_after_hours: float = 24.0
    """Runs that add up to this are for acting on even when they are over [h]. Common practice, no source."""

    sure_times: float = 1.5
    """Over again before so many times the longest usual run, they are for the record: the water may have been
    calmer than ever before. Common practice, no source."""

    returns_days: float = 2.0
    """Runs less than this apart come back day after day, and are over when none has come for as long, or
    somebody was there [d]. Common practice, no source."""


def find(case: Case, settings: Settings) -> Iterator[Finding]:
    """Yield a finding for every spell of runs of identical readings too long to be chance.

    The longest usual run is learned per signal from the half year before
    (`pipeline.spc.runs.longest_usual_run`), not a fixed number of hours. Runs that began together with
    those of other tags are one trouble of what sends them: one of the tags speaks for all.
    """
    if case.stuck.height == 0 and case.standstills.height == 0:
        return
    yield from _together(case, settings)
    gap = pl.col("start") - pl.col("end").shift(1)
    parted = (gap >= timedelta(days=settings.apart_days)).fill_null(True).cum_sum()
    spells = _alone(case).with_columns(parted.alias("spell"))
    for _, runs in spells.group_by("spell", maintain_order=True):
        yield _finding(case, settings, runs, case.readings["time"][-1])


def _alone(case: Case) -> pl.DataFrame:
    """Leave out the runs that were told of several tags together on the same day or earlier."""
    if case.standstills.height == 0:
        return case.stuck
    told = case.standstills.select(pl.col("run").alias("start"), pl.col("crossed").alias("told"))
    both = case.stuck.join(told, on="start", how="left", maintain_order="left")
    day = [to_local(pl.col(name), case.zone).dt.date() for name in ("told", "crossed")]
    return both.filter(~(day[0] <= day[1]).fill_null(False)).drop("told")


def _together(case: Case, settings: Settings) -> Iterator[Finding]:
    """Yield the standstills for which this tag speaks."""
    own = case.standstills.filter(pl.col("lead") == case.tag.tag).unique("crossed", maintain_order=True)
    for spell in own.iter_rows(named=True):
        stood = spell["end"] - spell["start"]
        pressing = spell["lasts"] or stood >= timedelta(hours=settings.act_after_hours)
        tags = spell["tags"]
        yield Finding(
            tag=case.tag.tag,
            instrument=case.device,
            kind="frozen",
            severity="act" if pressing else "watch",
            crossed=spell["crossed"].astimezone(case.zone).date(),
            start=spell["start"],
            end=None if spell["lasts"] else spell["end"],
            reference=f"{len(tags)} tags at once",
            evidence=(
                f"{len(tags)} tags stand still from the same moment, "
                f"{moment(spell['start'], case.zone)}, for {span(stood)}: {', '.join(tags)}. "
                "Instruments do not fail together: what sends their readings repeats the last ones."
            ),
            check_first=check_first("standstill", case.tag.measures),
            unit=case.tag.unit,
            others=tuple(tag for tag in tags if tag != case.tag.tag),
        )


def _finding(case: Case, settings: Settings, runs: pl.DataFrame, newest: datetime) -> Finding:
    stood = runs.select((pl.col("end") - pl.col("start")).sum()).item()
    lasts = runs["end"][-1] > newest
    is_over = not lasts and not comes_back(
        case, runs.select("start", "end").rows(), newest, timedelta(days=settings.returns_days)
    )
    pressing = lasts or stood >= timedelta(hours=settings.act_after_hours)
    times = (pl.col("end") - pl.col("start")).dt.total_seconds() / (60.0 * pl.col("allowed_minutes"))
    sure = runs.select((times >= settings.sure_times).any()).item()
    return of_recording(
        case,
        kind="frozen",
        severity="act" if pressing else "watch" if sure else "note",
        crossed=runs["crossed"][0].astimezone(case.zone).date(),
        lasted=(runs["start"][0], runs["end"][-1] if is_over else None),
        evidence=_evidence(case, runs, stood),
    )


def _evidence(case: Case, runs: pl.DataFrame, stood: timedelta) -> str:
    longest = runs.sort(pl.col("end") - pl.col("start")).row(-1, named=True)
    allowed = span(timedelta(minutes=longest["allowed_minutes"]))
    text = (
        f"Showed {number(case.tag, longest['value'])} without any change for "
        f"{span(longest['end'] - longest['start'])} ({longest['readings']} readings); "
        f"by its own past it repeats itself for at most {allowed}."
    )
    return text if runs.height == 1 else f"{text} {runs.height} such runs, {span(stood)} in all."
