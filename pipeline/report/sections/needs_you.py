"""What needs you: a short numbered list, most pressing first."""

from markupsafe import Markup

from pipeline.report.needs import MOST, needs
from pipeline.report.render import fill
from pipeline.week import Week

TITLE = "What needs you"
ORDER = 10


def render(week: Week) -> Markup:
    """Return the list; a calm sentence when it is empty."""
    found = needs(week)
    beyond = found[MOST:]
    outside = sum(need.tone == "outside" for need in beyond)
    return fill("needs_you.html", needs=found[:MOST], beyond=len(beyond), outside=outside)
