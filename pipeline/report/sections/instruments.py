"""Instruments in doubt: the calibration list with its evidence."""

from markupsafe import Markup

from pipeline.report.charts import chart
from pipeline.report.entries import came_back, card
from pipeline.report.proven import proven
from pipeline.report.render import fill
from pipeline.report.views import finding_view
from pipeline.week import Week

TITLE = "Instruments in doubt"
ORDER = 40


def render(week: Week) -> Markup:
    """Return one card an instrument, in rank order."""
    cards = [(card(week, entry), chart(finding_view(week, entry.finding))) for entry in week.entries]
    return fill(
        "instruments.html",
        cards=cards,
        beyond=week.entries_beyond_cap,
        came_back=came_back(week),
        record=proven(week),
    )
