"""Cli: the verbs, one call each; our errors become a sentence and an exit status."""

import os
import sys
import traceback
from collections.abc import Callable
from datetime import UTC, datetime
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from pipeline import __version__
from pipeline.cli_fleet import add_fleet_verb
from pipeline.cli_period import newest_week, period_named, week_before
from pipeline.cli_schedule import add_schedule_verbs
from pipeline.cli_upset import add_upset_verbs
from pipeline.config.load import Plant
from pipeline.errors import StillwellError, UsageError, of_the_system
from pipeline.say import DONE, REFUSED, say_intake, say_reports, speak_utf8

if TYPE_CHECKING:
    from pipeline.progress import Progress

BUG = 4
_ISO_8601 = "%Y-%m-%dT%H:%M:%S%.f%:z"
"""With the fraction of a second where there is one."""

FAIL_ON = click.option(
    "--fail-on",
    type=click.Choice(["act", "watch"]),
    help="End with status 1 when the report holds something this pressing.",
)


def _now() -> datetime:
    return datetime.now(UTC)


def _status(verb: Callable[..., int | None]) -> Callable[..., None]:
    """Turn what a verb returns or raises into the exit status."""

    @wraps(verb)
    def wrapped(*args: Any, **kwargs: Any) -> None:
        try:
            status = verb(*args, **kwargs) or DONE
        except StillwellError as error:
            click.echo(str(error), err=True)
            status = error.exit_status
        except BrokenPipeError:
            # Whoever read our words has read enough (`| head`); the work behind them is done.
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
            status = DONE
        except Exception as error:
            status = _explained(error)
        sys.exit(status)

    return wrapped


def _explained(error: Exception) -> int:
    """Tell of an error that is none of our own family: the system's, or a fault of ours."""
    told = of_the_system(error) if isinstance(error, OSError) else None
    if told:
        click.echo(str(told), err=True)
        return told.exit_status
    traceback.print_exc()
    click.echo("This is a fault of our own. Nothing stored was lost; please report it.", err=True)
    return BUG


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="stillwell")
@click.option(
    "--plant",
    "folder",
    type=click.Path(path_type=Path, file_okay=False),
    default=Path(),
    help="Folder of the plant (default: the current one).",
)
@click.pass_context
def main(context: click.Context, folder: Path) -> None:
    """Read a plant's trend exports; report what left its limits and which instruments to check."""
    speak_utf8()
    context.obj = folder


def _load(folder: Path) -> Plant:
    from pipeline.run import load_plant

    if not folder.is_dir():
        raise UsageError(f"{folder}: no such folder; name the plant's folder with --plant DIR")
    return load_plant(folder)


@main.command("run")
@FAIL_ON
@click.pass_obj
@_status
def run_verb(folder: Path, fail_on: str | None) -> int:
    """Ingest everything new, report every complete week since the last one reported, send the letters."""
    from pipeline.run import run

    plant = _load(folder)
    click.echo(f"{plant.name}, {_now().astimezone(plant.zone):%Y-%m-%d %H:%M}")
    with _progress() as tell:
        outcome = run(plant, _now, tell)
    status = say_intake(outcome.intake) if outcome.intake else DONE
    return max(status, say_reports(plant, outcome, fail_on))


@main.command()
@click.argument("files", nargs=-1, type=click.Path(path_type=Path))
@click.option("--again", is_flag=True, help="Read known files once more, now that the config is mended.")
@click.pass_obj
@_status
def ingest(folder: Path, files: tuple[Path, ...], again: bool) -> int:
    """Read exports into the archive (without FILES: everything new in the export folders).

    With --again also known exports of which readings were refused, or every one of FILES.
    """
    from pipeline.intake import take_in

    plant = _load(folder)
    with _progress() as tell:
        intake = take_in(plant, files=list(files) or None, now=_now(), again=again, tell=tell)
    return say_intake(intake)


def _progress() -> "Progress":
    from pipeline.progress import Progress

    return Progress(sys.stderr, "Reading exports")


@main.command()
@click.option("--week", "week", help="A week such as 2026-W46.")
@click.option("--month", "month", help="A calendar month such as 2026-11.")
@click.option("--from", "first", type=click.DateTime(["%Y-%m-%d"]), help="First day.")
@click.option("--to", "last", type=click.DateTime(["%Y-%m-%d"]), help="Last day.")
@FAIL_ON
@click.pass_obj
@_status
def report(
    folder: Path,
    week: str | None,
    month: str | None,
    first: datetime | None,
    last: datetime | None,
    fail_on: str | None,
) -> int:
    """Write the report of one period (without options: the newest complete week)."""
    from pipeline.run import report as write

    plant = _load(folder)
    outcome = write(plant, [period_named(plant, week, month, first, last)], _now)
    return say_reports(plant, outcome, fail_on)


@main.command()
@click.option("--as-of", "as_of", type=click.DateTime(["%Y-%m-%d"]), help="Day whose knowledge counts.")
@click.pass_obj
@_status
def calibration(folder: Path, as_of: datetime | None) -> int:
    """Print the calibration list (without --as-of: of the newest complete week)."""
    from pipeline.report.tables import tables
    from pipeline.run import week_of_period

    plant = _load(folder)
    period = week_before(plant, as_of.date()) if as_of else newest_week(plant)
    week = week_of_period(plant, period)
    click.echo(tables(week)["calibration-list.csv"], nl=False)
    return DONE


@main.command()
@click.pass_obj
@_status
def check(folder: Path) -> int:
    """Validate the config: every fault at once."""
    from pipeline.config.doubts import doubts

    plant = _load(folder)
    click.echo(
        f"{plant.name}: {len(plant.tags)} tags, {len(plant.instruments)} instruments, "
        f"{len(plant.limits)} limits, {len(plant.states)} states. No fault found."
    )
    for doubt in doubts(plant):
        click.echo(f"To look at: {doubt}")
    return DONE


@main.command("setup")
@click.argument("exports", nargs=-1, required=True, type=click.Path(path_type=Path), metavar="EXPORT...")
@click.option("--time-zone", "zone", help="The plant's, such as America/Denver or -07:00.")
@click.option("--name", "name", help="The plant's (default: its folder's).")
@click.pass_obj
@_status
def setup_verb(folder: Path, exports: tuple[Path, ...], zone: str | None, name: str | None) -> int:
    """Look at exports and draft the plant's config: every guess marked, with its evidence."""
    from pipeline.setup.table import table
    from pipeline.setup.write import setup

    done = setup(folder, exports, zone, name, _now())
    click.echo(table(done.draft))
    click.echo(f"\nDrafted {done.folder}; correct it, then run: stillwell check")
    for fault in done.faults:
        click.echo(str(fault), err=True)
    return REFUSED if done.faults else DONE


@main.command("query")
@click.argument("sql")
@click.option(
    "--format",
    "form",
    type=click.Choice(["table", "csv", "parquet"]),
    default="table",
    show_default=True,
    help="How the answer is written.",
)
@click.option("--output", type=click.Path(path_type=Path, dir_okay=False), help="Write it to this file.")
@click.pass_obj
@_status
def query_verb(folder: Path, sql: str, form: str, output: Path | None) -> int:
    """Answer SQL over trends, lab, calibrations, findings, excursions and limits."""
    from pipeline.query import as_text, query

    answer = query(_load(folder), sql)
    if output is not None and not output.absolute().parent.is_dir():
        raise UsageError(f"{output}: there is no such folder; make it, or name another file")
    if form == "parquet":
        if output is None and sys.stdout.isatty():
            raise UsageError("Parquet is not for a terminal; name a file with --output")
        answer.write_parquet(output or sys.stdout.buffer)
        return DONE
    text = as_text(answer) + "\n" if form == "table" else answer.write_csv(datetime_format=_ISO_8601)
    if output is None:
        click.echo(text, nl=False)
    else:
        output.write_text(text, encoding="utf-8", newline="")
    return DONE


@main.command()
@click.argument("target", type=click.Path(path_type=Path, file_okay=False))
@click.option("--weeks", default=60, show_default=True, type=click.IntRange(1, 520), help="Length of record.")
@click.option("--seed", default=1, show_default=True, help="Which noise.")
@click.option("--step", default="15", type=click.Choice(["1", "5", "15"]), help="Minutes between records.")
@_status
def demo(target: Path, weeks: int, seed: int, step: str) -> int:
    """Make an invented plant with known faults in TARGET."""
    from pipeline.demo.plant import make_plant

    make_plant(target, weeks=weeks, seed=seed, step_minutes=int(step))
    click.echo(f"Made {target}; now run: stillwell --plant {target} run")
    return DONE


add_upset_verbs(main, _load, _status)
add_schedule_verbs(main, _load, _status, _now)
add_fleet_verb(main, _status, FAIL_ON)


if __name__ == "__main__":
    main()
