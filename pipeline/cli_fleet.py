"""Cli fleet: ``stillwell fleet FOLDER…``."""

import os
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import click

from pipeline.say import DONE, FOUND, REFUSED

if TYPE_CHECKING:
    from pipeline.fleet import Ran

Verb = Callable[..., int | None]
STOPPED = 4
"""Of a run that the system stopped, as of a fault of our own."""
_ENDED = {DONE: "done", FOUND: "done, with something pressing", REFUSED: "done, with something refused"}


def add_fleet_verb(
    main: click.Group, status: Callable[[Verb], Callable[..., None]], fail_on: Callable[[Verb], Verb]
) -> None:
    """Add ``fleet`` to the command."""

    @main.command("fleet")
    @click.argument("folders", nargs=-1, required=True, type=click.Path(path_type=Path), metavar="FOLDER...")
    @click.option(
        "--workers",
        type=click.IntRange(1),
        default=max(1, (os.cpu_count() or 1) // 2),
        help="Plants at a time (default: half the processors, for each run uses two).",
    )
    @fail_on
    @status
    def fleet(folders: tuple[Path, ...], workers: int, fail_on: str | None) -> int:
        """Run the weekly job of many plants, each in its own folder; one that fails stops no other."""
        from pipeline.fleet import run_fleet

        words = ["--fail-on", fail_on] if fail_on else []
        done = run_fleet(folders, words, workers, _tell)
        click.echo("\n" + "\n".join(f"{ran.folder}: {_ended(ran)}" for ran in done))
        return max(ran.status if ran.status >= 0 else STOPPED for ran in done)


def _tell(ran: "Ran") -> None:
    click.echo(f"== {ran.folder}")
    click.echo(ran.said, nl=False)
    click.echo(ran.complained, nl=False, err=True)


def _ended(ran: "Ran") -> str:
    """Return how a run ended, with the last of its complaints where it did not do its work."""
    if ran.status in _ENDED:
        return _ENDED[ran.status]
    said = ran.complained.strip().splitlines()
    return f"not done (status {ran.status}): {said[-1] if said else 'it said nothing'}"
