"""What was read: every row of every delivery accounted for."""

from markupsafe import Markup

from pipeline.report.accounts import accounts, total
from pipeline.report.render import fill
from pipeline.week import Week

TITLE = "What was read"
ORDER = 70


def render(week: Week) -> Markup:
    """Return the row accounts of the period's deliveries."""
    lines = accounts(week)
    off = [line for line in lines if not line.adds_up]
    return fill("deliveries.html", lines=lines, total=total(lines), off=off)
