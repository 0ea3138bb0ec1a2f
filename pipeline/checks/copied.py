"""Copied: two tags that report the same numbers, change after change."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from pipeline.advice import check_first
from pipeline.case import Case
from pipeline.finding import Finding, Severity
from pipeline.wording import moment, span


@dataclass(frozen=True)
class Settings:
    """What is more than a chance meeting of two numbers."""

    fewest_hours: float = 9.0
    """Shortest stretch of equal numbers that is told [h]; three stretches of three hours, each with
    changes in it, are needed in any case. Common practice, no source."""


def find(case: Case, settings: Settings) -> Iterator[Finding]:
    """Yield a finding for every stretch in which the tag shows another's numbers.

    Two tags that were never seen to differ are one signal under two names: for the record.
    """
    newest = case.readings["time"][-1] if case.readings.height else case.as_of
    for stretch in case.copies.iter_rows(named=True):
        lasted = (stretch["end"] or newest) - stretch["start"]
        if lasted < timedelta(hours=settings.fewest_hours):
            continue
        told = max(stretch["crossed"], stretch["start"] + timedelta(hours=settings.fewest_hours))
        yield Finding(
            tag=case.tag.tag,
            instrument=case.device,
            kind="copied",
            severity=_severity(stretch),
            crossed=told.astimezone(case.zone).date(),
            start=stretch["start"],
            end=stretch["end"],
            reference=f"recording of {stretch['other']}",
            evidence=_evidence(case, stretch, lasted),
            check_first=check_first("copied", case.tag.measures),
            unit=case.tag.unit,
            others=() if stretch["is_told"] else (stretch["other"],),
        )


def _severity(stretch: dict[str, Any]) -> Severity:
    """Tell how pressing it is: without a reading of its own now; over or not certain; by design."""
    if stretch["always"]:
        return "note"
    return "act" if stretch["end"] is None and stretch["is_told"] else "watch"


def _evidence(case: Case, stretch: dict[str, Any], lasted: timedelta) -> str:
    other = stretch["other"]
    if stretch["always"]:
        return (
            f"Has shown the numbers of {other} in all {stretch['readings']} readings since its first one: "
            "one signal under two names, or one channel wired twice."
        )
    since = moment(stretch["start"], case.zone)
    text = (
        f"Shows the numbers of {other} since {since}: {stretch['readings']} readings equal over "
        f"{span(lasted)}, {stretch['moves']} times both changed to the same number."
    )
    if stretch["is_told"]:
        return f"{text} It jumped to them then; its own signal is missing."
    return f"{text} Which of the two is the copy cannot be told from the numbers."
