"""Entries: the facts of one line of the calibration list, as both pages print them."""

from dataclasses import dataclass
from datetime import timedelta

import polars as pl

from pipeline.finding import Finding
from pipeline.report.tables import place_of
from pipeline.report.words import (
    anchor,
    day_word,
    exact,
    joined,
    moment,
    percent,
    plural,
    scale_of,
    sentence,
    stretch,
)
from pipeline.week import Entry, Rank, Week
from pipeline.wording import unit_word

URGENCY = {"act": "Check first", "watch": "Watch", "note": "Note"}
MOST_TAGS = 6
TONES = {"act": "near", "watch": "watch", "note": "watch"}


@dataclass(frozen=True)
class Card:
    """What is printed of an entry; an empty text is left out."""

    entry: Entry
    anchor: str
    instrument: str
    tag: str
    about: str
    place: str
    urgency: str
    tone: str
    why: str
    ranked_by: str
    facts: tuple[tuple[str, str], ...]
    check_first: str
    touched: tuple[tuple[str, str], ...]


def card(week: Week, entry: Entry) -> Card:
    """Return the card of `entry`."""
    finding = entry.finding
    tag = week.plant.tags.get(finding.tag)
    touched = [found for found in week.excursions if found.instrument_doubt == finding.finding_id]
    return Card(
        entry,
        anchor(f"finding-{finding.finding_id}"),
        finding.instrument,
        finding.tag,
        tag.description if tag else "",
        place_of(week, entry),
        URGENCY[finding.severity],
        TONES[finding.severity],
        sentence(finding.evidence),
        rank_text(entry.why, finding) if entry.why else "",
        tuple((name, text) for name, text in _facts(week, entry) if text),
        sentence(finding.check_first),
        tuple((anchor(f"excursion-{found.excursion_id}"), found.excursion_id) for found in touched),
    )


def _facts(week: Week, entry: Entry) -> list[tuple[str, str]]:
    finding = entry.finding
    reaches = finding.reaches_tolerance_on
    # The last day of which anything is known: at its midnight the next one has not begun.
    last = (week.as_of - timedelta(microseconds=1)).astimezone(week.period.zone).date()
    over = reaches is not None and reaches <= last
    return [
        ("When", when_words(finding, week)),
        ("Estimated error", estimate_text(week, finding)),
        ("Tolerance", tolerance_text(week, finding) if finding.estimate is not None else ""),
        ("Changing by", _rate_text(week, finding)),
        (
            "Past tolerance since" if over else "Reaches tolerance",
            day_word(reaches, year=True) if reaches else "",
        ),
        ("Rests on", finding.reference),
        ("Other tags in it", _listed(finding.others)),
        (
            "Last calibrated",
            day_word(entry.last_calibrated, year=True) if entry.last_calibrated else "none on file",
        ),
        ("Last cleaned", _last_cleaned(week, finding)),
        ("Since it began", _still_so(week, finding)),
    ]


def came_back(week: Week) -> list[str]:
    """Return ``FIT-201 (frozen, until Thu 12 Nov)`` of each that is well again, and nobody wrote down why."""
    return [
        f"{found.tag} ({found.kind.replace('_', ' ')}, until "
        f"{day_word(found.end.astimezone(week.period.zone).date())})"
        for found in week.came_back
        if found.end is not None
    ]


def when_words(finding: Finding, week: Week) -> str:
    """Return from when to when it lasted, or since when it does; nothing where its evidence tells."""
    zone = week.period.zone
    if finding.end is not None:
        return f"{stretch(finding.start, finding.end, zone)}; over"
    return "" if finding.estimate is not None else f"since {moment(finding.start, zone)}"


def rank_text(rank: Rank, finding: Finding) -> str:
    """Return the three numbers whose product is the place on the list."""
    off = f"{exact(float(f'{rank.times:.2g}'))} times its tolerance"
    if finding.estimate is None or not finding.tolerance:
        off = "no usable reading now" if rank.times > 1 else "no error to name"
    guards = f"guards {_named(rank.guards)}" if rank.guards else "guards no limit"
    alone = " (half counts: it rests on its own past alone)" if finding.reference == "own history" else ""
    sure = ""
    if finding.estimate is not None and finding.tolerance:
        sure = f"{percent(100 * rank.certainty)} sure that it is past{alone}"
    return "; ".join(part for part in (off, guards, sure) if part)


def _listed(tags: tuple[str, ...]) -> str:
    more = f" and {len(tags) - MOST_TAGS} more" if len(tags) > MOST_TAGS else ""
    return ", ".join(tags[:MOST_TAGS]) + more


def _named(limits: tuple[str, ...]) -> str:
    if len(limits) <= 2:
        return joined(list(limits))
    return f"{limits[0]} and {plural(len(limits) - 1, 'more limit')}"


def _last_cleaned(week: Week, finding: Finding) -> str:
    case = week.cases.get(finding.tag)
    times = case.services.filter(pl.col("kind") == "cleaning")["time"].to_list() if case else []
    return day_word(times[-1].astimezone(week.period.zone).date(), year=True) if times else ""


def _still_so(week: Week, finding: Finding) -> str:
    """Tell of a service that has not put an end to it."""
    case = week.cases.get(finding.tag)
    if case is None or not finding.is_open:
        return ""
    rows = case.services.filter(pl.col("time") > finding.start).select("time", "kind").rows()
    if not rows:
        return ""
    when, kind = rows[-1]
    return f"{kind} on {day_word(when.astimezone(week.period.zone).date(), year=True)}, and still so"


def estimate_text(week: Week, finding: Finding) -> str:
    """Return the present error with its interval; empty where none can be named."""
    if finding.estimate is None:
        return ""
    scale = scale_of(week.plant.tags.get(finding.tag), finding.unit)
    text = scale.error(finding.estimate)
    if finding.ci_low is None or finding.ci_high is None:
        return text
    return f"{text} (95 %: {scale.signed(finding.ci_low)} to {scale.signed(finding.ci_high)})"


def tolerance_text(week: Week, finding: Finding) -> str:
    """Return the admissible error and where it comes from."""
    if finding.tolerance is None:
        return "none on file for this instrument"
    source = f" ({finding.tolerance_source})" if finding.tolerance_source else ""
    unit = finding.unit or (week.plant.tags[finding.tag].unit if finding.tag in week.plant.tags else "")
    return f"± {exact(float(f'{finding.tolerance:.3g}'))} {unit_word(unit)}".rstrip() + source


def _rate_text(week: Week, finding: Finding) -> str:
    if finding.rate_per_week is None:
        return ""
    return f"{scale_of(week.plant.tags.get(finding.tag), finding.unit).error(finding.rate_per_week)} a week"
