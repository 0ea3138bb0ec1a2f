"""Upsets: what went wrong together, what moved first, each with its own page."""

from markupsafe import Markup

from pipeline.report.dossier import SIGNS
from pipeline.report.render import fill
from pipeline.report.words import stretch
from pipeline.upsets.account import brief, first_names, named
from pipeline.upsets.inquiry import Inquiry
from pipeline.week import Week

TITLE = "Upsets"
ORDER = 32


def render(week: Week) -> Markup:
    """Return one paragraph an upset, by its beginning; a calm sentence when there is none."""
    return fill("upsets.html", upsets=[_facts(week, one) for one in week.upsets if one.upset])


def _facts(week: Week, one: Inquiry) -> dict[str, object]:
    assert one.upset
    return {
        "name": one.name,
        "link": f"upsets/{one.name}.html" if one.usual else "",
        "sign": SIGNS[one.upset.severity],
        "when": stretch(one.upset.start, one.upset.end, week.period.zone),
        "first": ", ".join(named(one, name) for name in first_names(one)),
        "told": brief(one),
    }
