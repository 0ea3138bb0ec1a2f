"""Timer: the system's own, where a task is put, looked for and taken away again."""

import getpass
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Protocol

from pipeline.errors import StillwellError
from pipeline.schedule import crontab, launchd, systemd, windows
from pipeline.schedule.task import Task

_LOGGED_IN = "; it runs while you are logged in"


class Timer(Protocol):
    """One kind of system timer; `first` is the next run, by the clock it goes by."""

    @property
    def plants_clock(self) -> bool:
        """Whether it goes by the plant's clock, and not by the computer's."""

    def shown(self, task: Task, first: datetime) -> str:
        """Return what would be installed, as text."""

    def is_installed(self, task: Task) -> bool:
        """Whether a timer of the task's name is there."""

    def install(self, task: Task, first: datetime) -> str:
        """Install the task, in place of one of its name; return where it stands."""

    def remove(self, task: Task) -> None:
        """Take the task away."""


@dataclass(frozen=True)
class Systemd:
    """Timers of systemd: the system's for root, else the user's own."""

    plants_clock: bool = True

    @property
    def _is_root(self) -> bool:
        return os.geteuid() == 0

    @property
    def _folder(self) -> Path:
        if self._is_root:
            return Path("/etc/systemd/system")
        home = os.environ.get("XDG_CONFIG_HOME") or Path.home() / ".config"
        return Path(home) / "systemd/user"

    def _systemctl(self, *words: str) -> None:
        _call(["systemctl", *(() if self._is_root else ("--user",)), *words])

    def shown(self, task: Task, first: datetime) -> str:
        """Return both units."""
        return _files({str(self._folder / name): text for name, text in systemd.units(task, first).items()})

    def is_installed(self, task: Task) -> bool:
        """Whether the timer's unit is there."""
        return (self._folder / f"{task.name}.timer").is_file()

    def install(self, task: Task, first: datetime) -> str:
        """Write the units and start the timer."""
        self._folder.mkdir(parents=True, exist_ok=True)
        for name, text in systemd.units(task, first).items():
            (self._folder / name).write_text(text, encoding="utf-8")
        self._systemctl("daemon-reload")
        self._systemctl("enable", f"{task.name}.timer")
        self._systemctl("restart", f"{task.name}.timer")
        return f"{self._folder / task.name}.timer{self._while_logged_in()}"

    def _while_logged_in(self) -> str:
        if self._is_root or Path("/var/lib/systemd/linger", getpass.getuser()).exists():
            return ""
        return f"{_LOGGED_IN}, and always after: loginctl enable-linger"

    def remove(self, task: Task) -> None:
        """Stop the timer and take the units away."""
        self._systemctl("disable", "--now", f"{task.name}.timer")
        for kind in ("timer", "service"):
            (self._folder / f"{task.name}.{kind}").unlink(missing_ok=True)
        self._systemctl("daemon-reload")


@dataclass(frozen=True)
class Crontab:
    """The user's crontab."""

    plants_clock: bool = False

    def _read(self) -> str:
        # Without a crontab there is a message and status 1, as if something were wrong.
        done = subprocess.run(["crontab", "-l"], capture_output=True, text=True, check=False)
        return done.stdout if done.returncode == 0 else ""

    def shown(self, task: Task, first: datetime) -> str:
        """Return the lines."""
        return "\n".join(crontab.lines(task, first))

    def is_installed(self, task: Task) -> bool:
        """Whether its lines are there."""
        return crontab.has_task(self._read(), task)

    def install(self, task: Task, first: datetime) -> str:
        """Put its lines into the crontab."""
        _call(["crontab", "-"], crontab.with_task(self._read(), task, first))
        return "your crontab"

    def remove(self, task: Task) -> None:
        """Take its lines out."""
        _call(["crontab", "-"], crontab.without_task(self._read(), task))


@dataclass(frozen=True)
class Launchd:
    """An agent of the user's."""

    plants_clock: bool = False

    def _path(self, task: Task) -> Path:
        return Path.home() / "Library/LaunchAgents" / f"{task.name}.plist"

    def shown(self, task: Task, first: datetime) -> str:
        """Return the property list."""
        return _files({str(self._path(task)): launchd.agent(task, first).decode()})

    def is_installed(self, task: Task) -> bool:
        """Whether its property list is there."""
        return self._path(task).is_file()

    def install(self, task: Task, first: datetime) -> str:
        """Write the property list and load it."""
        path = self._path(task)
        if path.is_file():
            self.remove(task)
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(launchd.agent(task, first))
        _call(["launchctl", "load", "-w", str(path)])
        return f"{path}{_LOGGED_IN}"

    def remove(self, task: Task) -> None:
        """Unload it and take it away."""
        _call(["launchctl", "unload", "-w", str(self._path(task))])
        self._path(task).unlink()


@dataclass(frozen=True)
class Windows:
    """A task of the Task Scheduler."""

    plants_clock: bool = False

    def shown(self, task: Task, first: datetime) -> str:
        """Return the task's XML."""
        return windows.document(task, first)

    def is_installed(self, task: Task) -> bool:
        """Whether a task of this name is there."""
        query = ["schtasks", "/Query", "/TN", task.name]
        return subprocess.run(query, capture_output=True, check=False).returncode == 0

    def install(self, task: Task, first: datetime) -> str:
        """Create the task from its XML, which must be UTF-16."""
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "task.xml"
            path.write_text(windows.document(task, first), encoding="utf-16")
            _call(["schtasks", "/Create", "/F", "/TN", task.name, "/XML", str(path)])
        return f"task {task.name}{_LOGGED_IN}"

    def remove(self, task: Task) -> None:
        """Delete the task."""
        _call(["schtasks", "/Delete", "/F", "/TN", task.name])


TIMERS: dict[str, Timer] = {
    "systemd": Systemd(),
    "cron": Crontab(),
    "launchd": Launchd(),
    "windows": Windows(),
}


def timer_of_this_system() -> Timer:
    """Return the timer of the system that we run on.

    Raises
    ------
    StillwellError
        There is none that we know.
    """
    if sys.platform == "win32":
        return TIMERS["windows"]
    if sys.platform == "darwin":
        return TIMERS["launchd"]
    if Path("/run/systemd/system").is_dir() and shutil.which("systemctl"):
        return TIMERS["systemd"]
    if shutil.which("crontab"):
        return TIMERS["cron"]
    raise StillwellError(
        "this system has neither systemd nor cron; let its own timer call, once a week: stillwell run "
        "(`stillwell schedule show --for cron` prints a line for it)"
    )


def _call(words: Sequence[str], given: str | None = None) -> None:
    """Call a program of the system; what it complains of becomes our sentence."""
    try:
        done = subprocess.run(words, input=given, capture_output=True, text=True, check=False)
    except OSError as error:
        raise StillwellError(f"{words[0]}: {error.strerror}; `stillwell schedule show` prints it") from error
    if done.returncode:
        told = (done.stderr or done.stdout).strip() or f"it ended with status {done.returncode}"
        raise StillwellError(f"{' '.join(words)}: {told}; nothing more was done")


def _files(texts: Mapping[str, str]) -> str:
    return "\n".join(f"# {name}\n{text}" for name, text in texts.items())
