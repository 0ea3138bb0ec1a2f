"""Task: what the timer calls, and when."""

import re
import sys
from dataclasses import dataclass
from datetime import datetime, time, timedelta, tzinfo
from pathlib import Path
from zoneinfo import ZoneInfo

from pipeline.clock import WEEKDAYS
from pipeline.config.load import Plant


@dataclass(frozen=True)
class Task:
    """One plant's weekly run.

    Parameters
    ----------
    name : str
        Of the timer: small letters, digits and hyphens, from the plant's name and its folder's.
    plant : str
        The plant's name.
    folder : Path
        The plant's, absolute.
    command : tuple of str
        Program and arguments.
    day : int
        0 = Monday.
    at : time
    zone : tzinfo
        The plant's; `day` and `at` are by its clock.
    """

    name: str
    plant: str
    folder: Path
    command: tuple[str, ...]
    day: int
    at: time
    zone: tzinfo

    @property
    def log(self) -> Path:
        """Where what a run says is kept."""
        return self.folder / "reports" / "run.log"

    def following(self, now: datetime) -> datetime:
        """Return the first run after `now`, by the plant's clock."""
        here = now.astimezone(self.zone)
        ahead = (self.day - here.weekday()) % 7
        weeks = (
            datetime.combine(here.date() + timedelta(days=ahead + more), self.at, self.zone)
            for more in (0, 7)
        )
        return next(when for when in weeks if when > now)

    @property
    def zone_name(self) -> str | None:
        """The IANA name of the plant's zone; None for a fixed offset."""
        return self.zone.key if isinstance(self.zone, ZoneInfo) else None


def task_of(plant: Plant) -> Task:
    """Return the weekly run of a plant, by ``[schedule]`` of its plant.toml."""
    folder, schedule = plant.folder.resolve(), plant.file.schedule
    return Task(
        name=f"stillwell-{_short(plant.name)}-{_short(folder.name)}",
        plant=plant.name,
        folder=folder,
        command=(*_program(), "--plant", str(folder), "run"),
        day=WEEKDAYS.index(schedule.day or plant.file.week_starts),
        at=schedule.hour,
        zone=plant.zone,
    )


def _short(name: str) -> str:
    return re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-") or "plant"


def _program() -> tuple[str, ...]:
    """Return how this very installation is called."""
    script = Path(sys.executable).with_name("stillwell.exe" if sys.platform == "win32" else "stillwell")
    return (str(script),) if script.is_file() else (sys.executable, "-m", "pipeline.cli")
