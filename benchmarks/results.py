"""Results: every measured figure in results.json, and RESULTS.md made from it; never edited by hand.

Run ``python -m benchmarks.results`` to make RESULTS.md again.
"""

import json
import os
import platform
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from datetime import date
from pathlib import Path
from typing import Literal

FOLDER = Path(__file__).parent
FIGURES = FOLDER / "results.json"
PAGE = FOLDER / "RESULTS.md"

SECTIONS = {
    "run": "The whole job",
    "ingest": "Reading exports",
    "detection": "Finding faults",
    "limits": "Limits",
    "upset": "Upsets",
    "report": "Pages",
    "scale": "Many tags, many years, many plants",
}


@dataclass(frozen=True)
class Figure:
    """One measured figure.

    Parameters
    ----------
    id : str
        Begins with one of SECTIONS and a hyphen.
    what : str
        In a sentence.
    figure : float or None
        None where it could not be measured; the row stays.
    unit : str
    better : {"higher", "lower"}
    target, floor : float or None
        What we aim at; what a release must reach.
    n : int
        Measurements, or cases, behind it.
    command : str
        Makes it again.
    date : str
        ISO 8601 day.
    """

    id: str
    what: str
    figure: float | None
    unit: str
    better: Literal["higher", "lower"]
    target: float | None
    floor: float | None
    n: int
    command: str
    date: str


def record(figures: Iterable[Figure]) -> None:
    """Put figures in the place of earlier ones with the same id, and make the page again."""
    kept = {row["id"]: row for row in _read()} | {figure.id: asdict(figure) for figure in figures}
    rows = sorted(kept.values(), key=lambda row: (list(SECTIONS).index(row["id"].split("-")[0]), row["id"]))
    FIGURES.write_text(json.dumps(rows, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
    PAGE.write_text(page(rows), encoding="utf-8")


def today() -> str:
    """Day of a measurement."""
    return date.today().isoformat()


def machine() -> str:
    """Return the size of this machine in words."""
    memory_gib = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") / 2**30
    return f"{os.cpu_count()} cores, {memory_gib:.0f} GiB, Python {platform.python_version()}"


def page(rows: list[dict[str, object]]) -> str:
    """Return RESULTS.md."""
    parts = [
        "# Measured figures",
        "",
        "Made from results.json by `python -m benchmarks.results`; each row names the command that measures",
        f"it again. Measured on {machine()}, shared with other work: trust ratios before seconds.",
    ]
    for section, title in SECTIONS.items():
        here = [row for row in rows if str(row["id"]).startswith(f"{section}-")]
        if here:
            parts += ["", f"## {title}", "", _head(), *(_line(row) for row in here)]
    notes = FOLDER / "NOTES.md"
    if notes.exists():
        parts += ["", notes.read_text(encoding="utf-8").strip()]
    return "\n".join(parts) + "\n"


def _head() -> str:
    columns = ["id", "what", "figure", "target", "floor", "met", "n", "command", "date"]
    return f"| {' | '.join(columns)} |\n|{'---|' * len(columns)}"


def _line(row: dict[str, object]) -> str:
    unit = str(row["unit"])
    shown = [_number(row[key], unit) for key in ("figure", "target", "floor")]
    cells = [row["id"], row["what"], *shown, _met(row), row["n"], f"`{row['command']}`", row["date"]]
    return "| " + " | ".join(str(cell) for cell in cells) + " |"


def _number(value: object, unit: str) -> str:
    return f"{value:g} {unit}".strip() if isinstance(value, int | float) else ""


def _met(row: dict[str, object]) -> str:
    figure, target, floor = row["figure"], row["target"], row["floor"]
    if not isinstance(figure, int | float):
        return "not measured"
    sign = 1.0 if row["better"] == "higher" else -1.0
    for bar, word in ((target, "target"), (floor, "floor")):
        if isinstance(bar, int | float) and sign * figure >= sign * bar:
            return word
    return "" if target is None and floor is None else "**no**"


def _read() -> list[dict[str, object]]:
    return json.loads(FIGURES.read_text(encoding="utf-8")) if FIGURES.exists() else []


if __name__ == "__main__":
    record([])
