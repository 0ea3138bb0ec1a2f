"""Small print: what made this page, so that it can be made again."""

from markupsafe import Markup

from pipeline import __version__
from pipeline.report.accounts import accounts
from pipeline.report.render import fill
from pipeline.week import Week

TITLE = "Small print"
ORDER = 90


def render(week: Week) -> Markup:
    """Return version, period, config and inputs."""
    return fill(
        "small_print.html",
        version=__version__,
        start=week.period.text(week.period.start),
        end=week.period.text(week.period.end),
        config_hash=week.config_hash,
        inputs=accounts(week),
    )
