"""Cli schedule: ``stillwell schedule show | install | remove``."""

from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from pipeline.config.load import Plant
    from pipeline.schedule.task import Task
    from pipeline.schedule.timer import Timer

Verb = Callable[..., int | None]
SYSTEMS = ("systemd", "cron", "launchd", "windows")


def add_schedule_verbs(
    main: click.Group,
    load: Callable[[Path], "Plant"],
    status: Callable[[Verb], Callable[..., None]],
    now: Callable[[], datetime],
) -> None:
    """Add ``schedule`` and its verbs to the command."""

    @main.group("schedule")
    def schedule() -> None:
        """Let this system's own timer call `run` every week; nothing stays resident."""

    def timer_and_task(folder: Path, system: str | None = None) -> "tuple[Timer, Task]":
        from pipeline.schedule.task import task_of
        from pipeline.schedule.timer import TIMERS, timer_of_this_system

        plant = load(folder)
        return TIMERS[system] if system else timer_of_this_system(), task_of(plant)

    @schedule.command()
    @click.option(
        "--for", "system", type=click.Choice(SYSTEMS), help="Another computer's (default: this one's)."
    )
    @click.pass_obj
    @status
    def show(folder: Path, system: str | None) -> None:
        """Print when the timer calls, whether it is installed, and what it is made of."""
        timer, task = timer_and_task(folder, system)
        first = _first(timer, task, now())
        click.echo(_when(task, first))
        if system is None:
            is_there = timer.is_installed(task)
            click.echo(
                "It is installed." if is_there else "Not installed; to install it: stillwell schedule install"
            )
        click.echo("\n" + timer.shown(task, first).rstrip())

    @schedule.command()
    @click.pass_obj
    @status
    def install(folder: Path) -> None:
        """Install the timer, or put it right after a change of the config."""
        timer, task = timer_and_task(folder)
        first = _first(timer, task, now())
        task.log.parent.mkdir(exist_ok=True)
        where = timer.install(task, first)
        click.echo(f"Installed: {where}.")
        click.echo(_when(task, first))
        click.echo(f"What each run says is added to {task.log}.")

    @schedule.command()
    @click.pass_obj
    @status
    def remove(folder: Path) -> None:
        """Take the timer away again."""
        timer, task = timer_and_task(folder)
        if not timer.is_installed(task):
            click.echo(f"No timer of {task.plant} is installed; nothing was done.")
            return
        timer.remove(task)
        click.echo(f"Removed the timer of {task.plant}.")


def _first(timer: "Timer", task: "Task", now: datetime) -> datetime:
    """Return the next run by the clock that the timer goes by."""
    first = task.following(now)
    return first if timer.plants_clock else first.astimezone()


def _when(task: "Task", first: datetime) -> str:
    """Tell when the run comes; a computer that keeps another time may be an hour off for half the year."""
    there = first.astimezone(task.zone)
    text = f"{task.plant}: every {there:%A} at {there:%H:%M}, next on {there:%Y-%m-%d}."
    if there.utcoffset() == first.utcoffset():
        return text
    return (
        f"{text} By this computer's clock, which the timer goes by, that is {first:%A %H:%M}; while only "
        "one of the two clocks has changed for the summer, the run comes an hour early or late."
    )
