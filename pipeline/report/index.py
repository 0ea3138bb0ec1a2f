"""Index: reports/index.html, every report of a plant, newest first, read back from the folders themselves."""

from datetime import datetime
from json import JSONDecodeError, loads
from pathlib import Path
from typing import Any
from urllib.parse import quote

from pipeline.report.page import page
from pipeline.report.render import fill
from pipeline.report.tables import COLUMNS
from pipeline.report.words import days_word, plural

_TONES = ("outside", "unknown", "near", "within")


def write_index(reports: Path, plant_name: str) -> None:
    """Write ``index.html`` into the folder `reports`; one whose run.json cannot be read is listed as such."""
    folders = [path.parent for path in reports.glob("*/run.json") if not path.parent.name.startswith(".")]
    weeks = [_week(folder) for folder in folders]
    found = sorted(weeks, key=lambda it: (it["start"], it["label"]), reverse=True)
    text = page(f"{plant_name}, weekly reports", "index", fill("index.html", plant=plant_name, reports=found))
    partial = reports / ".index.html.building"
    partial.write_text(text, encoding="utf-8", newline="")
    partial.replace(reports / "index.html")


def _week(folder: Path) -> dict[str, Any]:
    base = {"folder": quote(folder.name), "label": folder.name, "start": "", "broken": False}
    try:
        run = loads((folder / "run.json").read_text(encoding="utf-8"))
        start, end = (datetime.fromisoformat(run[key]) for key in ("period_start", "period_end"))
        assert start.tzinfo is not None and run["tone"] in _TONES
        days, counted = days_word(start, end), _counted(run["counts"], run["rows"])
    except (OSError, JSONDecodeError, KeyError, TypeError, ValueError, AssertionError):
        return {**base, "broken": True}
    return {
        **base,
        "start": start.isoformat(),
        "label": run["label"],
        "days": days,
        "word": run["state"],
        "tone": run["tone"],
        "sentence": run["verdict"],
        "counted": counted,
        "tables": [name for name in COLUMNS if (folder / name).is_file()],
    }


def _counted(counts: dict[str, int], rows: dict[str, int]) -> str:
    """Tell what lies behind the verdict."""
    settled = counts.get("settled", 0)  # None in the reports of earlier versions.
    findings = counts["act"] + counts["watch"] + counts["note"] + settled
    told = f"{plural(counts['excursions'], 'excursion')}; {plural(findings, 'finding')}"
    if findings:
        told += f": {counts['act']} to act on, {counts['watch']} to watch, {counts['note']} for the record"
        told += f", {settled} over or settled" if settled else ""
    return f"{told}; {plural(rows['read'], 'row')} read, {rows['refused']:,} refused."
