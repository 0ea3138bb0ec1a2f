"""Cautions: what this page is not."""

from markupsafe import Markup

from pipeline.report.render import fill
from pipeline.week import Week

TITLE = "Before you rely on this"
ORDER = 80


def render(week: Week) -> Markup:
    """Return the cautions, the same every week."""
    return fill("cautions.html", plant=week.plant.name)
