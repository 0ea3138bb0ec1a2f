"""Say: what a verb tells on the terminal when its work is done, and the exit status that goes with it."""

import sys
from io import TextIOWrapper
from typing import TYPE_CHECKING

import click

from pipeline.config.load import Plant

if TYPE_CHECKING:
    from pipeline.intake import Intake
    from pipeline.run import Outcome

DONE, FOUND, REFUSED = 0, 1, 3


def speak_utf8() -> None:
    """Write UTF-8 into files and pipes on every system; a console knows its own."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper) and not stream.isatty():
            stream.reconfigure(encoding="utf-8")


def say_intake(intake: "Intake") -> int:
    """Tell what became of every export and reading; return the exit status."""
    read = len(intake.deliveries)
    known = sum(outcome.status == "known" for outcome in intake.outcomes)
    left = [outcome.file for outcome in intake.outcomes if outcome.status == "left"]
    click.echo(f"Exports: {read} read, {known} known already, {len(intake.faults)} refused.")
    if left:
        click.echo(f"Still being written, left for the next run: {', '.join(left)}.")
    if read:
        click.echo(
            f"Readings: {intake.total('read'):,} read = {intake.total('stored'):,} stored "
            f"+ {intake.total('known'):,} known already + {intake.total('superseded'):,} in place of others "
            f"+ {intake.total('refused'):,} refused."
        )
    for delivery in intake.deliveries:
        if delivery.refused:
            click.echo(
                f"{delivery.file}: {delivery.refused:,} of {delivery.read:,} readings were refused; "
                f"archive/refused/{delivery.source}.csv says which and why",
                err=True,
            )
    for outcome in intake.outcomes:
        for remark in outcome.remarks:
            click.echo(f"To look at: {outcome.file}: {remark}.", err=True)
    if intake.total("refused"):
        click.echo("When the config is mended, `stillwell ingest --again` reads them once more.", err=True)
    for fault in intake.faults:
        click.echo(str(fault), err=True)
    return intake.exit_status


def _say_letters(outcome: "Outcome") -> bool:
    """Tell what became of the letters; return whether any could not be sent."""
    for posted in outcome.posted:
        if posted.kept_by:
            click.echo(f"The letter of {posted.label} waits for the next run: {posted.kept_by}", err=True)
        else:
            click.echo(f"Sent: the letter of {posted.label}.")
        if posted.refused:
            click.echo(f"Not taken for {', '.join(posted.refused)}: correct `to` of [mail].", err=True)
    return any(posted.kept_by or posted.refused for posted in outcome.posted)


def say_reports(plant: Plant, outcome: "Outcome", fail_on: str | None) -> int:
    """Tell the verdict of every week reported and where the page is; return the exit status."""
    for fault in outcome.logbook_faults:
        click.echo(str(fault), err=True)
    for slip in outcome.slips:
        click.echo(f"To look at: {slip}", err=True)
    for report in outcome.reports:
        click.echo(f"{report.label}: {report.sentence}")
        click.echo(f"Report: {report.folder / 'weekly.html'}")
    if not outcome.reports:
        click.echo("No complete week that is not reported already.")
        newest = max(plant.reports.glob("[0-9]*-W[0-9]*/weekly.html"), default=plant.reports / "index.html")
        click.echo(f"Report: {newest}")
    if outcome.nameless and outcome.empty:
        click.echo(
            f"The archive holds readings of {', '.join(outcome.nameless)}, which config/tags.csv no longer "
            f"names, and none of {', '.join(outcome.empty)}. If a tag was renamed, read its exports once "
            "more: stillwell ingest --again FILE…",
            err=True,
        )
    for label in outcome.overtaken:
        click.echo(
            f"{label} was reported before some of its readings came; its page does not know them. "
            f"Make it again: stillwell report --week {label}",
            err=True,
        )
    kept = _say_letters(outcome)
    if outcome.logbook_faults or kept:
        return REFUSED
    wanted = {"act"} if fail_on == "act" else {"act", "watch"}
    return FOUND if fail_on and any(report.pressing & wanted for report in outcome.reports) else DONE
