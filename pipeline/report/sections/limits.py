"""Limits: every limit with its worst value; those that were kept beyond doubt are folded away."""

from datetime import tzinfo

from markupsafe import Markup

from pipeline.report.render import fill
from pipeline.report.results import outside_words, over_words, worst_moment
from pipeline.report.words import (
    NOTHING,
    Scale,
    allowed,
    anchor,
    day_word,
    duration,
    joined,
    percent,
    plural,
    scale_of,
)
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
    """Return the tables of limits by area, in the config's order: those to look at, then all others."""
    kept = [result for result in week.limits if _is_kept(result)]
    pressing = [result for result in week.limits if not _is_kept(result)]
    return fill(
        "limits.html",
        pressing=_by_area(week, pressing),
        kept=_by_area(week, kept),
        count=len(kept),
        every=len(week.limits),
    )


def _is_kept(result: LimitResult) -> bool:
    """Whether there is nothing to look at.

    Within on every day, also over its instrument's error, and no nearer every week.
    """
    shrinks = result.trend is not None and result.trend.high < 0
    is_sure = result.doubt is None or result.doubt.statuses == ("within",)
    return result.status == "within" and is_sure and not shrinks and not result.unknown_days


def _by_area(week: Week, results: list[LimitResult]) -> list[tuple[str, list[dict[str, str]]]]:
    areas: dict[str, list[dict[str, str]]] = {}
    for result in results:
        areas.setdefault(_area(week, result), []).append(_row(week, result))
    return list(areas.items())


def _area(week: Week, result: LimitResult) -> str:
    """Return the name of the area that a limit's tag lies in."""
    tag = week.plant.tags.get(result.limit.tag)
    return next((area.name for area in week.plant.file.area if tag and area.id == tag.area), "")


def _row(week: Week, result: LimitResult) -> dict[str, str]:
    limit = result.limit
    tag = week.plant.tags.get(limit.tag)
    value = result.value if result.value is not None else result.worst
    scale = scale_of(tag, result.unit)
    shown = scale.beside(value, (result.low, result.high))
    return {
        "id": anchor(f"limit-{limit.limit_id}"),
        "name": limit.name,
        "about": f"{limit.limit_id} · {limit.tag}{_statistic(result)}",
        "allowed": allowed(result.low, result.high, unit_word(result.unit)),
        "rule": result.rule,
        "worst": shown,
        "note": _note(result, scale, week.period.zone),
        "worst_at": worst_moment(result, week.period.zone) if value is not None else "",
        "tone": _TONES[result.status],
        "word": _word(result),
        "margin": _margin(result, scale),
        "doubt": over_words(week, result),
        "doubtful": result.doubt.instrument if result.doubt else "",
        "doubt_link": anchor(f"finding-{result.doubt.finding_id}") if result.doubt else "",
        "outside": _outside(result),
        "longest": duration(result.longest_minutes) if result.longest_minutes and not result.days else "",
        "coverage": percent(result.coverage_pct),
        "source": limit.source,
    }


def _word(result: LimitResult) -> str:
    """Return ``Within, so far``, ``Within, 1 day not known``, or ``Not assessable: 3 of 4 sampled days``."""
    so_far = ", so far" if result.so_far else ""
    unknown = len(result.unknown_days) if result.status in ("within", "near") else 0
    days = f", {plural(unknown, 'day')} not known" if unknown else ""
    return _WORDS[result.status] + so_far + days + (result.lacks and f": {result.lacks}")


def _note(result: LimitResult, scale: Scale, zone: tzinfo) -> str:
    """Return what more there is to know of the value: before rounding, over which stretch, of how many."""
    shown = scale.beside(result.raw, (result.low, result.high)) if result.raw is not None else ""
    days = joined([day_word(day.astimezone(zone).date()) for day in result.unknown_days])
    unknown = f"not known: {days}" if days else ""
    return "; ".join(
        part for part in (f"before rounding {shown}" if shown else "", result.note, unknown) if part
    )


def _margin(result: LimitResult, scale: Scale) -> str:
    """Return how far inside it stayed, over eight weeks, and whether that shrinks beyond doubt."""
    known = [value for value in result.margins[:-1] if value is not None]
    now = result.margins[-1] if result.margins else None
    if now is None or now < 0:
        return ""
    text = f"margin {scale.full(now)}"
    if known:
        ends = dict.fromkeys([scale.plain(min(known)), scale.plain(max(known))])
        text += f"; {plural(len(known), 'week')} before: {' to '.join(ends)}"
    trend = result.trend
    if trend and trend.high < 0:
        # Of a slope the digits that the interval leaves are enough.
        text += f"; shrinking by {-trend.slope:.2g} a week ({-trend.high:.2g} to {-trend.low:.2g})"
    return text


def _outside(result: LimitResult) -> str:
    if result.minutes_outside:
        return outside_words(result)
    # A day's statistic that is outside has no minutes of its own.
    return {"not assessable": "not known", "outside": NOTHING}.get(result.status, "none")


def _statistic(result: LimitResult) -> str:
    """Name the statistic, unless the rule beside the number says the same at more length."""
    name = result.limit.statistic
    return "" if name == "instantaneous" or result.rule else f", {name.replace('_', ' ')}"
