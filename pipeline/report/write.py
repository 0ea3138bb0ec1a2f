"""Write: a week's report folder, whole or not at all."""

from json import dumps
from pathlib import Path
from shutil import rmtree
from typing import Any

from pipeline import __version__
from pipeline.report.accounts import COUNTS, accounts, total
from pipeline.report.dossier import dossiers
from pipeline.report.field_sheet import field_sheet
from pipeline.report.page import calibration_page, weekly_page
from pipeline.report.tables import tables
from pipeline.report.verdict import judge
from pipeline.week import Week

Run = dict[str, Any]


def write_report(week: Week, folder: Path, run: Run) -> None:
    """Write the report of `week` as `folder`, in place of one that stands there.

    Everything is built in a folder beside it and swapped in by renaming, so that a run that is killed
    leaves the old report or the new one.

    Parameters
    ----------
    week : Week
        What the report says.
    folder : Path
        The week's own folder, for instance ``reports/2026-W46``.
    run : dict
        What the caller knows of this run (``made_at``, timings); goes into run.json alone.
    """
    folder.parent.mkdir(parents=True, exist_ok=True)
    recover(folder)
    building = _beside(folder, "building")
    _remove(building)
    building.mkdir()
    for name, text in _files(week, run).items():
        # newline="": CSVs and pages have the same bytes on every system.
        (building / name).parent.mkdir(exist_ok=True)
        (building / name).write_text(text, encoding="utf-8", newline="")
    _swap(building, folder)


def recover(folder: Path) -> None:
    """Put back the old report where a run was killed between taking it away and putting the new one down."""
    old = _beside(folder, "old")
    if old.exists() and not folder.exists():
        old.rename(folder)
    _remove(old)


def _swap(building: Path, folder: Path) -> None:
    old = _beside(folder, "old")
    if folder.exists():
        folder.rename(old)
    building.rename(folder)
    _remove(old)


def _beside(folder: Path, word: str) -> Path:
    return folder.with_name(f".{folder.name}.{word}")


def _remove(folder: Path) -> None:
    if folder.exists():
        rmtree(folder)


def _files(week: Week, run: Run) -> dict[str, str]:
    return {
        "weekly.html": weekly_page(week),
        "calibration-list.html": calibration_page(week),
        "field-sheet.html": field_sheet(week),
        **tables(week),
        **dossiers(week),
        "run.json": _json(run_record(week, run)),
    }


def _json(record: Run) -> str:
    return dumps(record, indent=2, sort_keys=True, ensure_ascii=False, default=str) + "\n"


def run_record(week: Week, run: Run) -> Run:
    """Return run.json: what made the report, from what, and what it came to."""
    lines = accounts(week)
    verdict = judge(week)
    return {
        **run,
        "version": __version__,
        "plant": week.plant.name,
        "label": week.period.label,
        "period_start": week.period.text(week.period.start),
        "period_end": week.period.text(week.period.end),
        "known_until": week.period.text(week.as_of),
        "verdict": verdict.sentence,
        "state": verdict.word,
        "tone": verdict.tone,
        "counts": verdict.counts,
        "config_hash": week.config_hash or run.get("config_hash", ""),
        "inputs": [{"file": line.file, "source": line.source} for line in lines],
        "rows": {name: total(lines).counts[name] for name in COUNTS},
    }
