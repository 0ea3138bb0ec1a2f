"""Crontab: one line and a comment that tells whose it is (crontab(5)); by the computer's clock."""

from datetime import datetime
from shlex import join, quote

from pipeline.schedule.task import Task


def lines(task: Task, first: datetime) -> list[str]:
    """Return the task's lines of a crontab; `first` is its next run by the computer's clock."""
    weekday = first.isoweekday() % 7  # 0 is Sunday
    command = f"cd {quote(str(task.folder))} && {join(task.command)} >> {quote(str(task.log))} 2>&1"
    # A bare % would end the command.
    escaped = command.replace("%", r"\%")
    return [_mark(task), f"{first.minute} {first.hour} * * {weekday} {escaped}"]


def with_task(crontab: str, task: Task, first: datetime) -> str:
    """Return the user's crontab with the task's lines, in place of those that stood there."""
    return "\n".join([*without_task(crontab, task).splitlines(), *lines(task, first), ""])


def without_task(crontab: str, task: Task) -> str:
    """Return the user's crontab without the task's lines; all others stand as they stood."""
    kept: list[str] = []
    rows = iter(crontab.splitlines())
    for row in rows:
        if row == _mark(task):
            next(rows, None)
        else:
            kept.append(row)
    return "".join(f"{row}\n" for row in kept)


def has_task(crontab: str, task: Task) -> bool:
    """Whether the task's lines stand in it."""
    return _mark(task) in crontab.splitlines()


def _mark(task: Task) -> str:
    return f"# {task.name}: weekly run"
