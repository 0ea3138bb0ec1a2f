"""Table: a draft as people read it on the screen: one line a tag, then what needs their eyes."""

from collections.abc import Sequence

from pipeline.setup.doubts import doubts
from pipeline.setup.draft import Draft, TagDraft
from pipeline.setup.guess import SAY_WHICH

WIDEST = 34


def table(draft: Draft) -> str:
    """Return the drafted tags as text in columns, and below them what could not be known."""
    rows = [
        ("tag", "in the export", "measures", "unit", "span", "every", "recording"),
        *map(_row, draft.tags),
    ]
    widths = [min(WIDEST, max(len(row[k]) for row in rows)) for k in range(len(rows[0]))]
    lines = [
        "  ".join(cell[:w].ljust(w) for cell, w in zip(row, widths, strict=True)).rstrip() for row in rows
    ]
    lines.insert(1, "  ".join("-" * width for width in widths))
    return "\n".join([*lines, "", "Every value is a guess. Look at these first:", *_questions(draft)])


def _row(tag: TagDraft) -> tuple[str, ...]:
    cell = {column: guess.value for column, guess in tag.guesses.items()}
    span = cell["states"] or f"{cell['low']} to {cell['high']}"
    rhythm = cell["recording"] + (f", heartbeat {cell['heartbeat_s']} s" if cell["heartbeat_s"] else "")
    return tag.tag, tag.export_name, cell["measures"], cell["unit"], span, f"{cell['step_s']} s", rhythm


def _questions(draft: Draft) -> list[str]:
    read = draft.read
    lines = [f"  time_zone = {draft.zone.value}: {draft.zone.evidence}"]
    for key, guess in (("date_order", read.date_order), ("decimal_mark", read.decimal_mark)):
        asks = key == "date_order" or guess.evidence.endswith(SAY_WHICH)
        if guess.evidence and (guess.value or asks):
            lines.append(f"  {key}{f' = {guess.value}' if guess.value else ''}: {guess.evidence}")
    if draft.exports_zone.evidence:
        lines.append(f"  [reading] time_zone: {draft.exports_zone.evidence}")
    lines += [f"  {doubt}" for doubt in doubts([look.raw["quality"] for look in draft.looks], read.walls)]
    lines += [f"  ignored: {one.pattern}: {one.evidence}" for one in draft.left_out]
    lines += _listed("no unit in the export", [tag for tag in draft.tags if _lacks_unit(tag)])
    unsaid = [tag for tag in draft.tags if tag.guesses["measures"].value in ("unknown", "analysis")]
    lines += _listed("what it measures is not said", unsaid)
    return lines + [f"  {tag.tag}: {remark}" for tag in draft.tags for remark in tag.remarks]


def _lacks_unit(tag: TagDraft) -> bool:
    return not tag.is_state and tag.guesses["unit"].value == "1"


def _listed(what: str, tags: Sequence[TagDraft]) -> list[str]:
    return [f"  {what}: {', '.join(tag.tag for tag in tags)}"] if tags else []
