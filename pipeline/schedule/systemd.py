"""Systemd: a timer and a service; a run that the computer slept through is made up for (systemd.timer(5))."""

from datetime import UTC, datetime

from pipeline.clock import WEEKDAYS
from pipeline.schedule.task import Task

_ESCAPES = str.maketrans({"\\": "\\\\", '"': '\\"', "%": "%%", "$": "$$"})


def units(task: Task, first: datetime) -> dict[str, str]:
    """Return the text of each unit file by its name; `first` is the next run."""
    return {f"{task.name}.service": _service(task), f"{task.name}.timer": _timer(task, first)}


def _service(task: Task) -> str:
    log = _plain(str(task.log))
    return f"""[Unit]
Description=Weekly run of {_plain(task.plant)}

[Service]
Type=oneshot
WorkingDirectory={_plain(str(task.folder))}
ExecStart={" ".join(map(_quoted, task.command))}
StandardOutput=append:{log}
StandardError=append:{log}
SuccessExitStatus=1 3
Nice=10
"""


def _timer(task: Task, first: datetime) -> str:
    return f"""[Unit]
Description=Calls the weekly run of {_plain(task.plant)}

[Timer]
OnCalendar={calendar(task, first)}
Persistent=true

[Install]
WantedBy=timers.target
"""


def calendar(task: Task, first: datetime) -> str:
    """Return when, as systemd.time(7) writes it; a plant whose clock never changes goes by UTC."""
    when = first.astimezone(task.zone if task.zone_name else UTC)
    return f"{WEEKDAYS[when.weekday()][:3].capitalize()} *-*-* {when:%H:%M}:00 {task.zone_name or 'UTC'}"


def _quoted(word: str) -> str:
    return f'"{word.translate(_ESCAPES)}"'


def _plain(text: str) -> str:
    return text.replace("%", "%%")
