"""Limits: every limit with its worst value, whatever it came to."""

from markupsafe import Markup

from pipeline.report.render import fill
from pipeline.report.results import worst_moment
from pipeline.report.words import NOTHING, allowed, anchor, duration, percent, scale_of
from pipeline.result import LimitResult
from pipeline.week import Week
from pipeline.wording import unit_word

TITLE = "Limits"
ORDER = 20
_TONES = {"outside": "outside", "not assessable": "unknown", "near": "near", "within": "within"}
_WORDS = {
    "outside": "Outside, for review",
    "not assessable": "Not assessable",
    "near": "Near",
    "within": "Within",
}


def render(week: Week) -> Markup:
    """Return the table of limits, in the config's order."""
    return fill("limits.html", rows=[_row(week, result) for result in week.limits])


def _row(week: Week, result: LimitResult) -> dict[str, str]:
    limit = result.limit
    tag = week.plant.tags.get(limit.tag)
    value = result.value if result.value is not None else result.worst
    shown = scale_of(tag, result.unit).beside(value, (limit.low, limit.high))
    return {
        "id": anchor(f"limit-{limit.limit_id}"),
        "name": limit.name,
        "about": f"{limit.limit_id} · {limit.tag}{_statistic(limit.statistic)}",
        "allowed": allowed(limit.low, limit.high, unit_word(result.unit)),
        "worst": shown,
        "worst_at": worst_moment(result, week.period.zone) if value is not None else "",
        "tone": _TONES[result.status],
        "word": _WORDS[result.status],
        "outside": _outside(result),
        "longest": duration(result.longest_minutes) if result.longest_minutes else "",
        "coverage": percent(result.coverage_pct),
        "source": limit.source,
    }


def _outside(result: LimitResult) -> str:
    if result.minutes_outside:
        return duration(result.minutes_outside)
    # A day's statistic that is outside has no minutes of its own.
    return {"not assessable": "not known", "outside": NOTHING}.get(result.status, "none")


def _statistic(name: str) -> str:
    return "" if name == "instantaneous" else f", {name.replace('_', ' ')}"
