"""Sheets: the demo's own config tables, as far as the simulator reads them."""

import csv
from dataclasses import dataclass
from io import StringIO
from pathlib import Path

TEMPLATES = Path(__file__).parent / "config"
RELATIVE = ("flow", "feed", "turbidity", "uv_intensity")
"""Measures whose error grows with the reading."""


@dataclass(frozen=True)
class Tag:
    """One row of tags.csv."""

    tag: str
    export_name: str
    area: str
    measures: str
    unit: str
    export_unit: str
    low: float
    high: float
    resolution: float
    recording: str
    instrument: str
    valid_when: str

    @property
    def relative(self) -> bool:
        """Whether its error is a share of the reading."""
        return self.measures in RELATIVE

    @property
    def export_step(self) -> float:
        """Smallest step of the numbers in the export [export unit]."""
        return 0.1 if self.export_unit else self.resolution

    @property
    def decimals(self) -> int:
        """Decimals of the numbers in the export."""
        text = f"{self.export_step:g}"
        return len(text.partition(".")[2])


@dataclass(frozen=True)
class Instrument:
    """One row of instruments.csv, with the tag it serves."""

    instrument: str
    tag: Tag
    service_days: int
    tolerance: float
    tolerance_pct: float

    def tolerance_at(self, reading: float) -> float:
        """Return the tolerance [tag's unit] at a reading; the larger of the two holds."""
        return max(self.tolerance, abs(reading) * self.tolerance_pct / 100.0)


def rows(name: str) -> list[dict[str, str]]:
    """Read one table of the templates."""
    text = (TEMPLATES / name).read_text(encoding="utf-8")
    return list(csv.DictReader(StringIO(text)))


@dataclass(frozen=True)
class Sheets:
    """All tables."""

    tags: dict[str, Tag]
    instruments: dict[str, Instrument]
    limits: list[dict[str, str]]


def read_sheets() -> Sheets:
    """Read the config templates."""
    tags = {row["tag"]: _tag(row) for row in rows("tags.csv")}
    owner = {tag.instrument: tag for tag in tags.values() if tag.instrument}
    instruments = {
        row["instrument"]: Instrument(
            row["instrument"],
            owner[row["instrument"]],
            int(row["service_days"]),
            float(row["tolerance"] or 0.0),
            float(row["tolerance_pct"] or 0.0),
        )
        for row in rows("instruments.csv")
    }
    return Sheets(tags, instruments, rows("limits.csv"))


def _tag(row: dict[str, str]) -> Tag:
    numbers = {key: float(row[key]) for key in ("low", "high", "resolution")}
    words = {key: row[key] for key in Tag.__dataclass_fields__ if key not in numbers}
    return Tag(**words, **numbers)  # type: ignore[arg-type]
