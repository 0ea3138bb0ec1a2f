"""Field sheet: one or two printed pages to take along, with boxes for a pen."""

from dataclasses import dataclass

from pipeline.report.entries import estimate_text, when_words
from pipeline.report.page import page
from pipeline.report.render import fill, text_of
from pipeline.report.tables import place_of, usual_kind
from pipeline.report.upkeep import due_soon, upkeep
from pipeline.report.words import day_word, days_word, sentence
from pipeline.week import Entry, Week
from pipeline.wording import unit_word

SPARE = 1
"""Empty blocks at the end, for an instrument that nobody thought of."""

MOST_BLOCKS = 10
"""So many blocks fill two pages."""

BOXES = (
    ("as_found", "As found", "before anything"),
    ("reference", "Reference", "grab or standard"),
    ("cleaned", "Cleaned", "before adjusting"),
    ("reference_after", "Ref. again", "if the water moved"),
    ("as_left", "As left", "after adjusting"),
)
"""Column of field-sheet.csv, its word on paper, and what to write there."""


@dataclass(frozen=True)
class Block:
    """What stands on the sheet of one instrument."""

    number: str
    instrument: str
    place: str
    kind: str
    doubt: str
    check_first: str
    finding_id: str
    unit: str
    service: str


def field_sheet(week: Week) -> str:
    """Return field-sheet.html."""
    zone = week.period.zone
    blocks = [_block(week, entry) for entry in week.entries]
    spare = max(0, min(SPARE, MOST_BLOCKS - len(blocks)))
    body = fill(
        "field_sheet.html",
        plant=week.plant.name,
        label=week.period.label,
        days=days_word(week.period.start.astimezone(zone), week.period.end.astimezone(zone)),
        blocks=[*blocks, *(Block("", "", "", "", "", "", "", "", "") for _ in range(spare))],
        boxes=BOXES,
        due=_due(week),
    )
    title = f"{week.plant.name}, field sheet {week.period.label}"
    return page(title, "fieldsheet", body, style=text_of("field_sheet.css"))


def _block(week: Week, entry: Entry) -> Block:
    finding = entry.finding
    tag = week.plant.tags.get(finding.tag)
    about = finding.kind.replace("_", " ")
    size = estimate_text(week, finding)
    device = week.plant.instruments.get(finding.instrument)
    unit = finding.unit or (tag.unit if tag else "")
    return Block(
        str(entry.rank),
        finding.instrument if finding.instrument == finding.tag else f"{finding.instrument} ({finding.tag})",
        place_of(week, entry),
        device.kind if device else "",
        " ".join(part for part in (about, size or when_words(finding, week)) if part),
        sentence(finding.check_first),
        finding.finding_id,
        unit_word(unit) or unit.replace("1", ""),
        usual_kind(week, entry),
    )


def _due(week: Week) -> list[str]:
    """Return what is due for its regular service besides."""
    listed = {entry.finding.instrument for entry in week.entries}
    soon = [one for one in due_soon(week, upkeep(week)) if one.case.device not in listed and one.due]
    return [f"{one.case.device} {day_word(one.due)}" for one in soon if one.due is not None]
