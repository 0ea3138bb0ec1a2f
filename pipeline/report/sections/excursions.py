"""Excursions: each episode outside a limit, with the record around it."""

from markupsafe import Markup

from pipeline.report.charts import chart
from pipeline.report.render import fill
from pipeline.report.results import doubt_words, length_words, moment_word, result_of
from pipeline.report.views import excursion_view
from pipeline.report.words import anchor, duration, scale_of, stretch
from pipeline.result import Excursion
from pipeline.week import Week

TITLE = "Excursions"
ORDER = 30
MOST_DRAWN = 10
_PRESSING = {"act": 0, "watch": 1, "note": 2}


def render(week: Week) -> Markup:
    """Return the episodes by start; the most pressing are drawn; those within an allowance come last."""
    beyond = [found for found in week.excursions if not found.allowance]
    ranked = sorted(beyond, key=lambda e: (_PRESSING[e.limit.severity], -e.minutes, e.excursion_id))
    drawn = {episode.excursion_id for episode in ranked[:MOST_DRAWN]}
    return fill(
        "excursions.html",
        episodes=[_episode(week, found) for found in beyond if found.excursion_id in drawn],
        others=[_facts(week, found) for found in beyond if found.excursion_id not in drawn],
        allowed=[_facts(week, found) for found in week.excursions if found.allowance],
        unknown=sum(result.status == "not assessable" for result in week.limits),
        total=len(week.limits),
    )


def _episode(week: Week, excursion: Excursion) -> dict[str, object]:
    return {**_facts(week, excursion), "chart": chart(excursion_view(week, excursion))}


def _facts(week: Week, excursion: Excursion) -> dict[str, object]:
    limit, zone = excursion.limit, week.period.zone
    scale = scale_of(week.plant.tags.get(limit.tag), excursion.unit)
    lasting, minutes = length_words(week, excursion)
    return {
        "id": anchor(f"excursion-{excursion.excursion_id}"),
        "excursion_id": excursion.excursion_id,
        "name": limit.name,
        "tag": limit.tag,
        "when": stretch(excursion.start, excursion.end, zone),
        "lasting": lasting,
        "minutes": minutes,
        "worst": scale.beside(excursion.worst, (limit.low, limit.high)),
        "worst_at": moment_word(week, excursion, excursion.worst_at),
        "remarks": _remarks(excursion),
        "allowance": excursion.allowance,
        "doubt": excursion.instrument_doubt,
        "doubt_link": _link(week, excursion.instrument_doubt),
        "over": _over(week, excursion),
    }


def _remarks(excursion: Excursion) -> list[str]:
    found = []
    if excursion.minutes_unknown:
        found.append(f"{duration(excursion.minutes_unknown)} more in between without a good reading")
    if excursion.open_start:
        found.append("may have begun earlier: the record begins inside it")
    if excursion.open_end:
        found.append("may have lasted longer: the record ends inside it")
    return found


def _over(week: Week, excursion: Excursion) -> str:
    """Return what the limit would come to over the error of the instrument that the episode points at."""
    result = result_of(week, excursion)
    if result is None or not excursion.instrument_doubt or result.doubt is None or not result.doubt.looks:
        return ""
    return doubt_words(week, result)


def _link(week: Week, finding_id: str) -> str:
    """Return the anchor of a finding that stands on this page."""
    known = any(finding.finding_id == finding_id for finding in week.findings)
    return anchor(f"finding-{finding_id}") if known else ""
