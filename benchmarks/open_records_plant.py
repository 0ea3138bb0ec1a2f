"""Plant of an open record: its config, exports and logbook in a folder, and what the product says of it."""

import csv
import shutil
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import polars as pl

from benchmarks.open_records_scoring import Told
from pipeline.archive.trends import first_and_last
from pipeline.case import Case
from pipeline.clock import Period, midnight, weeks_between
from pipeline.config.load import Plant
from pipeline.finding import Finding
from pipeline.gather import gather
from pipeline.intake import Intake, take_in
from pipeline.judge import find_all, settings_of
from pipeline.logbook.book import read_logbook
from pipeline.run import load_plant
from pipeline.table import VERDICTS, empty
from pipeline.triage import calibration_list, of_period

CONFIGS = Path(__file__).parent / "open"
NOW = datetime(2026, 11, 16, 12, tzinfo=UTC)
"""When the exports are read: later than any of their readings."""

Swap = tuple[str, datetime]
"""Instrument, and time at which a freshly calibrated one took its place."""


@dataclass(frozen=True)
class Judged:
    """A record after the job.

    Parameters
    ----------
    plant : Plant
    intake : Intake
        How its exports were read.
    first, last : datetime [UTC]
        Of its readings.
    cases : dict of str to Case
    told : list of Told
        Every finding of its past.
    """

    plant: Plant
    intake: Intake
    first: datetime
    last: datetime
    cases: dict[str, Case]
    told: list[Told]


def make_plant(
    folder: Path, config: str, exports: Sequence[Path], zone: str = "", swaps: Sequence[Swap] = ()
) -> Plant:
    """Lay out a plant's folder round its exports and return it.

    Parameters
    ----------
    folder : Path
        Where to; not there yet.
    config : str
        Folder of `benchmarks/open`.
    exports : sequence of Path
    zone : str, optional
        In the place of the time zone of plant.toml.
    swaps : sequence of (str, datetime), optional
        For the logbook; no flag of the record goes in.
    """
    shutil.copytree(CONFIGS / config, folder / "config")
    for name in ("trends", "lab", "logbook"):
        (folder / name).mkdir()
    for export in exports:
        shutil.copy(export, folder / "trends" / export.name)
    if zone:
        path = folder / "config" / "plant.toml"
        lines = path.read_text(encoding="utf-8").splitlines()
        lines = [f'time_zone = "{zone}"' if line.startswith("time_zone") else line for line in lines]
        path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    with (folder / "logbook" / "calibrations.csv").open("w", newline="", encoding="utf-8") as sheet:
        writer = csv.writer(sheet, lineterminator="\n")
        writer.writerow(["instrument", "time", "kind"])
        writer.writerows([instrument, time.isoformat(), "replacement"] for instrument, time in swaps)
    return load_plant(folder)


def judged(plant: Plant) -> Judged:
    """Read a plant's exports and judge all of it, as the weekly job would have week by week."""
    intake = take_in(plant, now=NOW)
    known = first_and_last(plant.archive)
    if known is None:
        raise SystemExit(f"{plant.folder}: nothing of the exports was stored: {intake.faults}")
    first, last = known
    book, faults = read_logbook(plant)
    if faults:
        raise SystemExit(f"the logbook was not read whole: {faults[0]}")
    as_of = last + timedelta(seconds=max(tag.step_s for tag in plant.tags.values()))
    cases = gather(plant, book, as_of)
    found = find_all(cases, settings_of(plant))
    on_list = listed(found, cases, list(weeks_between(first, as_of, plant.zone)))
    told = [_told(one, plant, one.finding_id in on_list) for one in found]
    return Judged(plant, intake, first, last, cases, told)


def listed(found: list[Finding], cases: dict[str, Case], weeks: list[Period]) -> set[str]:
    """Return the ids that stood on the calibration list of any week, made with what was known at its end."""
    ids: set[str] = set()
    for week in weeks:
        here = of_period([_as_known(one, week) for one in found], week, empty(VERDICTS))
        then = {name: _before(case, week) for name, case in cases.items()}
        entries, _ = calibration_list(here, then)
        ids |= {one.finding_id for entry in entries for one in (entry.finding, *entry.also)}
    return ids


def _before(case: Case, week: Period) -> Case:
    """Return a case with the services logged by a week's end: a later one was not known."""
    return replace(case, services=case.services.filter(pl.col("time") < week.end))


def _as_known(finding: Finding, week: Period) -> Finding:
    """Return a finding as it stood at the end of a week: what ended later had no end yet."""
    if finding.end is None or finding.end <= week.end:
        return finding
    # A gap asks for somebody only while it lasts.
    return replace(finding, end=None, severity="watch" if finding.kind == "gap" else finding.severity)


def _told(finding: Finding, plant: Plant, is_listed: bool) -> Told:
    known = midnight(finding.crossed + timedelta(days=1), plant.zone)
    return Told(finding.tag, finding.kind, known, finding.start, finding.end, is_listed)
