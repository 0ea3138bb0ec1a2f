"""Plant: one call makes the whole invented plant in a folder."""

from pathlib import Path

import polars as pl

from pipeline.demo.calendar import Calendar, make_calendar
from pipeline.demo.exports import write_trends
from pipeline.demo.faults import break_readings
from pipeline.demo.laboratory import grabs
from pipeline.demo.logbook import calibrations, maintenance, verdicts
from pipeline.demo.readings import as_recorded, healthy_readings, typical
from pipeline.demo.sheets import TEMPLATES, Sheets, read_sheets
from pipeline.demo.states import valid
from pipeline.demo.truewater import make_water
from pipeline.demo.truth import excursion_table, fault_table, operation_table
from pipeline.demo.water import Signals
from pipeline.errors import UsageError

CONFIG = ("plant.toml", "tags.csv", "instruments.csv", "limits.csv")


def make_plant(folder: Path, weeks: int = 60, seed: int = 1, step_minutes: int = 15) -> None:
    """Write the plant of Harrow Fork into `folder`.

    Parameters
    ----------
    folder : Path
        Where; made if need be. Gets ``config/`` and ``sample_exports/{trends,lab,logbook,truth}/``.
    weeks : int
        Length of the record [weeks]; it ends on 2026-11-16, so faults before its start are left out.
    seed : int
        Changes noise and sizes, never the schedule. The same seed gives the same bytes.
    step_minutes : int
        One reading every so many minutes [min]; a divisor of 60.

    Raises
    ------
    UsageError
        A number makes no sense, or `folder` holds another plant.
    """
    _refuse(folder, weeks, seed, step_minutes)
    calendar = make_calendar(weeks, step_minutes)
    sheets = read_sheets()
    water = make_water(seed, calendar)
    readings = break_readings(seed, calendar, sheets, healthy_readings(seed, calendar, sheets, water))
    _write_config(folder / "config", step_minutes)
    exports = folder / "sample_exports"
    _clear(exports)
    write_trends(exports / "trends", calendar, sheets, readings)
    _write_papers(exports, seed, calendar, sheets, water)
    _write_truth(exports / "truth", calendar, sheets, water, readings)


def _refuse(folder: Path, weeks: int, seed: int, step_minutes: int) -> None:
    if weeks < 1:
        raise UsageError(f"{weeks} weeks is no record; ask for at least one, for instance --weeks 12")
    if step_minutes < 1 or 60 % step_minutes:
        raise UsageError(f"a step of {step_minutes} minutes does not divide the hour; use 1, 5, 10, 15 or 30")
    if seed < 0:
        raise UsageError(f"the seed {seed} is negative; use 0 or more")
    config = folder / "config" / "plant.toml"
    if config.exists() and 'name = "Harrow Fork"' not in config.read_text(encoding="utf-8", errors="replace"):
        raise UsageError(f"{folder} holds another plant's config; name an empty folder for the demo")


def _write_config(folder: Path, step_minutes: int) -> None:
    """Copy the config; only the step of the tags differs."""
    folder.mkdir(parents=True, exist_ok=True)
    for name in CONFIG:
        text = (TEMPLATES / name).read_text(encoding="utf-8")
        if name == "tags.csv":
            text = text.replace(",900,", f",{60 * step_minutes},")
        (folder / name).write_text(text, encoding="utf-8", newline="\n")


def _clear(exports: Path) -> None:
    """Remove the files of an earlier making, which may have been longer."""
    for room in ("trends", "lab", "truth"):
        for old in sorted((exports / room).glob("*.csv")):
            old.unlink()


def _write_papers(exports: Path, seed: int, calendar: Calendar, sheets: Sheets, water: Signals) -> None:
    """Write the laboratory's months and the logbook."""
    (exports / "lab").mkdir(parents=True, exist_ok=True)
    (exports / "logbook").mkdir(parents=True, exist_ok=True)
    samples = grabs(seed, calendar, sheets, water, valid(calendar, sheets, water))
    for (month,), rows in samples.group_by(pl.col("time").str.head(7), maintain_order=True):
        rows.write_csv(exports / "lab" / f"lab-{month}.csv")
    calibrations(seed, calendar, sheets, water).write_csv(exports / "logbook" / "calibrations.csv")
    maintenance(calendar).write_csv(exports / "logbook" / "maintenance.csv")
    if not (exports / "logbook" / "verdicts.csv").exists():
        verdicts().write_csv(exports / "logbook" / "verdicts.csv")


def _write_truth(folder: Path, calendar: Calendar, sheets: Sheets, water: Signals, readings: Signals) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    recorded = {tag.tag: as_recorded(tag, readings[tag.tag]) for tag in sheets.tags.values()}
    usual = {tag.tag: typical(water[tag.tag]) for tag in sheets.tags.values()}
    masks = valid(calendar, sheets, recorded)
    fault_table(calendar, sheets, usual).write_csv(folder / "faults.csv")
    excursion_table(calendar, sheets, recorded, masks).write_csv(folder / "excursions.csv")
    operation_table(calendar, recorded).write_csv(folder / "operations.csv")
