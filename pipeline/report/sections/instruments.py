"""Instruments in doubt: the calibration list with its evidence."""

from markupsafe import Markup

from pipeline.report.charts import chart
from pipeline.report.entries import card
from pipeline.report.render import fill
from pipeline.report.views import finding_view
from pipeline.report.words import joined, plural
from pipeline.week import Week

TITLE = "Instruments in doubt"
ORDER = 40
_ANSWERS = {"confirmed": "confirmed", "dismissed": "dismissed", "process": "the water itself"}


def render(week: Week) -> Markup:
    """Return one card an instrument, in rank order."""
    cards = [(card(week, entry), chart(finding_view(week, entry.finding))) for entry in week.entries]
    return fill("instruments.html", cards=cards, beyond=week.entries_beyond_cap, record=_record(week))


def _record(week: Week) -> list[str]:
    """Tell how earlier suspicions of each kind turned out."""
    lines = []
    for row in week.verdict_tally.iter_rows(named=True):
        told = [f"{row[answer]} {word}" for answer, word in _ANSWERS.items() if row[answer]]
        if told:
            answered = sum(row[answer] for answer in _ANSWERS)
            kind = str(row["kind"]).replace("_", " ")
            lines.append(f"{kind}: {plural(answered, 'answer')}, {joined(told)}")
    return lines
