"""Page: the weekly page and the calibration list, each one file that loads nothing."""

from base64 import b64encode
from functools import cache
from gzip import compress

from markupsafe import Markup

from pipeline.parts import parts
from pipeline.report import sections
from pipeline.report.entries import came_back, card
from pipeline.report.proven import proven
from pipeline.report.render import fill, text_of
from pipeline.report.sketch import sketch
from pipeline.report.upkeep import due_row, due_soon, upkeep
from pipeline.report.verdict import Counts, judge
from pipeline.report.views import finding_view
from pipeline.report.words import days_word, moment, plural
from pipeline.week import Week

_NO_SCRIPTS = Markup("")


def weekly_page(week: Week) -> str:
    """Return weekly.html."""
    verdict = judge(week)
    days = _days(week)
    body = fill(
        "weekly.html",
        plant=week.plant.name,
        label=week.period.label,
        days=days,
        verdict=verdict,
        known_until=_known_until(week),
        tally=_tally(verdict.counts),
        sections=_sections(week),
    )
    drawing = scripts() if "<figure" in body else _NO_SCRIPTS
    return page(f"{week.plant.name}, {days}", "weekly", body, drawing)


def calibration_page(week: Week) -> str:
    """Return calibration-list.html."""
    cards = []
    for entry in week.entries:
        view = finding_view(week, entry.finding)
        cards.append((card(week, entry), sketch(view, 420, 180) if view else ""))
    body = fill(
        "calibration.html",
        plant=week.plant.name,
        label=week.period.label,
        days=_days(week),
        known_until=_known_until(week),
        opening=_opening(judge(week).counts),
        cards=cards,
        beyond=week.entries_beyond_cap,
        came_back=came_back(week),
        record=proven(week),
        due=[due_row(week, one) for one in due_soon(week, upkeep(week))],
    )
    title = f"{week.plant.name}, calibration list {week.period.label}"
    return page(title, "calibration", body, style=text_of("calibration.css"))


def page(
    title: str, kind: str, body: Markup, scripts: Markup = _NO_SCRIPTS, style: Markup = _NO_SCRIPTS
) -> str:
    """Return a whole page around `body`."""
    return fill(
        "page.html", title=title, kind=kind, body=body, scripts=scripts, style=text_of("page.css") + style
    )


def _days(week: Week) -> str:
    zone = week.period.zone
    return days_word(week.period.start.astimezone(zone), week.period.end.astimezone(zone))


def _known_until(week: Week) -> str:
    """Say up to when an unfinished period is known; blank of one that is over."""
    return moment(week.as_of, week.period.zone) if week.as_of < week.period.end else ""


def _sections(week: Week) -> list[tuple[str, str, Markup]]:
    found = sorted(parts(sections).items(), key=lambda part: part[1].ORDER)
    return [(name, part.TITLE, part.render(week)) for name, part in found]


def _tally(counts: Counts) -> list[tuple[str, int, str]]:
    outside, entries, silences = counts["outside"], counts["entries"], counts["silences"]
    return [
        ("limit outside" if outside == 1 else "limits outside", outside, "outside"),
        ("not assessable", counts["not_assessable"], "unknown"),
        ("near a limit", counts["near"], "near"),
        ("within", counts["within"], "within"),
        ("instrument to check" if entries == 1 else "instruments to check", entries, "near"),
        ("stretch without data" if silences == 1 else "stretches without data", silences, "unknown"),
    ]


def _opening(counts: Counts) -> str:
    if not counts["entries"]:
        return "Nothing to check beyond the regular service."
    return f"{plural(counts['entries'], 'instrument')} to check, {counts['first'] or 'none'} of them first."


def scripts() -> Markup:
    """Return what draws the charts of a page."""
    packed = Markup('<script type="application/octet-stream" id="plotly-packed">{}</script>\n').format(
        _plotly()
    )
    return packed + Markup("<script>\n") + text_of("charts.js") + Markup("</script>")


@cache
def _plotly() -> str:
    """Return the browser bundle of the plotly package, packed without a time stamp: always the same."""
    from plotly.offline import get_plotlyjs

    return b64encode(compress(get_plotlyjs().encode(), 9, mtime=0)).decode()
