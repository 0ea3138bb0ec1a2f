"""Cli upset: ``stillwell upset list | show | window | similar``."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta, tzinfo
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from pipeline.errors import UsageError
from pipeline.say import DONE

if TYPE_CHECKING:
    import polars as pl

    from pipeline.config.load import Plant
    from pipeline.upsets.inquiry import Inquiry

Verb = Callable[..., int | None]
FORMS = ["%Y-%m-%d", "%Y-%m-%dT%H:%M", "%Y-%m-%d %H:%M"]
LISTED = timedelta(weeks=8)

FROM = click.option("--from", "first", type=click.DateTime(FORMS), help="Wall clock: 2026-11-14T02:00.")
TO = click.option("--to", "last", type=click.DateTime(FORMS), help="Wall clock; a day alone ends with it.")
INTO = click.option(
    "--output",
    type=click.Path(path_type=Path, file_okay=False),
    help="Folder of the page (default: reports/upsets).",
)
TAGS = click.option("--tags", help="Tags, separated by commas (default: those that departed most).")
FORM = click.option(
    "--format",
    "form",
    type=click.Choice(["table", "csv"]),
    default="table",
    show_default=True,
    help="How it is told.",
)


def add_upset_verbs(
    main: click.Group, load: Callable[[Path], "Plant"], status: Callable[[Verb], Callable[..., None]]
) -> None:
    """Add ``upset`` and its verbs to the command."""

    @main.group("upset")
    def upset() -> None:
        """Look into what went wrong together: what moved first, what followed, whether it happened before."""

    def verb(*decorators: Any) -> Callable[[Verb], click.Command]:
        def add(function: Verb) -> click.Command:
            made: Any = click.pass_obj(status(function))
            made.__name__, made.__doc__ = function.__name__, function.__doc__
            for one in reversed(decorators):
                made = one(made)
            return upset.command(function.__name__.removeprefix("_"))(made)

        return add

    @verb(FROM, TO, FORM)
    def _list(folder: Path, first: datetime | None, last: datetime | None, form: str) -> int:
        """List the upsets of the newest eight weeks, or of a stretch of time."""
        return list_upsets(load(folder), first, last, form)

    @verb(click.argument("upset_id", metavar="ID"), INTO)
    def _show(folder: Path, upset_id: str, output: Path | None) -> int:
        """Tell one upset and write its page."""
        return show(load(folder), upset_id, output)

    @verb(FROM, TO, TAGS, INTO)
    def _window(
        folder: Path, first: datetime | None, last: datetime | None, tags: str | None, output: Path | None
    ) -> int:
        """Write the page of any stretch of time, with the readings beside it."""
        return window(load(folder), first, last, tags, output)

    @verb(click.argument("upset_id", metavar="ID"), FORM)
    def _similar(folder: Path, upset_id: str, form: str) -> int:
        """List the windows of the whole archive that look most like an upset."""
        return similar(load(folder), upset_id, form)


def list_upsets(plant: "Plant", first: datetime | None, last: datetime | None, form: str) -> int:
    """Print one line an upset."""
    from pipeline.opened import Opened

    opened = Opened(plant)
    end = _ends(last, plant.zone) if last else opened.end
    start = _instant(first, plant.zone) if first else end - LISTED
    frame = opened.upsets(start, end)
    if frame.height == 0:
        click.echo("No upset in that time.")
    else:
        _tell(frame, form, plant)
    return DONE


def show(plant: "Plant", upset_id: str, output: Path | None) -> int:
    """Tell an upset in a paragraph and write its page."""
    from pipeline.opened import Opened
    from pipeline.upsets.account import account

    inquiry = Opened(plant).inquiry(upset_id)
    click.echo(" ".join(account(inquiry)))
    _write(plant, inquiry, output)
    return DONE


def window(
    plant: "Plant", first: datetime | None, last: datetime | None, tags: str | None, output: Path | None
) -> int:
    """Write the page of a stretch of time."""
    from pipeline.opened import Opened

    if first is None or last is None:
        raise UsageError("name a stretch of time, such as --from 2026-11-14T00:00 --to 2026-11-15")
    start, end = _instant(first, plant.zone), _ends(last, plant.zone)
    wanted = [name.strip() for name in tags.split(",")] if tags else None
    _write(plant, Opened(plant).window(start, end, wanted), output)
    return DONE


def similar(plant: "Plant", upset_id: str, form: str) -> int:
    """Print the windows most alike."""
    from pipeline.opened import Opened

    frame = Opened(plant).similar(upset_id)
    if frame.height == 0:
        click.echo("Nothing in the archive looks like it.")
    else:
        _tell(frame, form, plant)
    return DONE


def _tell(frame: "pl.DataFrame", form: str, plant: "Plant") -> None:
    """Print rows by the plant's clock: each time of a CSV with its offset; a table names the zone once."""
    from pipeline.query import as_text

    if form == "csv":
        click.echo(_by_clock(frame, plant.zone, with_offset).write_csv(), nl=False)
        return
    click.echo(f"Times are the plant's clock ({plant.file.time_zone}).")
    click.echo(as_text(_by_clock(frame, plant.zone, wall_clock)))


def _by_clock(frame: "pl.DataFrame", zone: tzinfo, word: Callable[[datetime, tzinfo], str]) -> "pl.DataFrame":
    """Return the frame with its times as text: a column of times could not keep a fixed offset."""
    import polars as pl

    columns = [name for name, kind in frame.schema.items() if isinstance(kind, pl.Datetime)]
    return frame.with_columns(
        pl.Series(name, [word(at, zone) if at else None for at in frame[name]], pl.String) for name in columns
    )


def with_offset(instant: datetime, zone: tzinfo) -> str:
    """Return ``2026-11-14T02:00:00-07:00``."""
    return instant.astimezone(zone).isoformat(timespec="seconds")


def wall_clock(instant: datetime, zone: tzinfo) -> str:
    """Return ``2026-11-14 02:00``; with the zone's letters in the hour that the clocks repeat."""
    from pipeline.report.words import clock_word

    return f"{instant.astimezone(zone):%Y-%m-%d} {clock_word(instant, zone)}"


def _write(plant: "Plant", inquiry: "Inquiry", output: Path | None) -> None:
    from pipeline.report.dossier import dossier, raw_values

    folder = output or plant.reports / "upsets"
    folder.mkdir(parents=True, exist_ok=True)
    page = folder / f"{inquiry.name}.html"
    page.write_text(dossier(plant.name, inquiry), encoding="utf-8", newline="")
    (folder / f"{inquiry.name}.csv").write_text(raw_values(inquiry), encoding="utf-8", newline="")
    click.echo(f"Page: {page}")


def _instant(when: datetime, zone: tzinfo) -> datetime:
    return when.replace(tzinfo=zone).astimezone(UTC)


def _ends(when: datetime, zone: tzinfo) -> datetime:
    """Return the end of a stretch: of a day named alone its last moment."""
    whole_day = when.hour == when.minute == 0
    return _instant(when + timedelta(days=1) if whole_day else when, zone)
