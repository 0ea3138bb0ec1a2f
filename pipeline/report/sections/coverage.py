"""Coverage: how much of the week the record really holds, by area and by tag."""

from datetime import datetime

import polars as pl
from markupsafe import Markup

from pipeline.report.render import fill
from pipeline.report.silences import Silence, refused_words, silences
from pipeline.report.words import NOTHING, duration, moment, stretch
from pipeline.week import Week

TITLE = "Coverage"
ORDER = 60
COMPLETE_PCT = 98.0
"""A tag with less is named on the page [%] (common practice, no source)."""
MOST_NAMED = 15
"""So many of them; the rest stand in the folded table."""


def render(week: Week) -> Markup:
    """Return shared gaps, the areas, the tags with holes, and all tags folded away."""
    gaps = [_gap(week, silence) for silence in silences(week)]
    recorded = [row for row in week.coverage.iter_rows(named=True) if row["coverage_pct"] is not None]
    tags = [_tag(week, row) for row in recorded]
    names = week.coverage.filter(pl.col("coverage_pct") < COMPLETE_PCT)["tag"].to_list()
    thin = [tag for tag in tags if tag["tag"] in names]
    named, beyond = thin[:MOST_NAMED], max(0, len(thin) - MOST_NAMED)
    return fill(
        "coverage.html",
        gaps=gaps,
        areas=_areas(week),
        thin=named,
        beyond=beyond,
        tags=tags,
        unjudged=_unjudged(week),
        uncompared=_uncompared(week),
        complete=COMPLETE_PCT,
    )


def _gap(week: Week, silence: Silence) -> dict[str, str]:
    word = "no good reading" if silence.bad or silence.refused else "silent"
    when = stretch(silence.start, silence.end, week.period.zone)
    return {
        "whose": silence.whose,
        "word": word,
        "when": when,
        "length": duration(silence.minutes),
        "refused": refused_words(silence) if silence.refused else "",
    }


def _unjudged(week: Week) -> list[dict[str, str]]:
    """Name the tags of which nobody can tell a stuck reading from a steady one, and why."""
    found = []
    for name, case in week.cases.items():
        if case.thinned:
            found.append({"tag": name, "why": "its readings mostly repeat the one before"})
        elif case.tag.stands_until_the_next and not case.tag.is_state:
            found.append({"tag": name, "why": "recorded on change, and no heartbeat is known"})
    return found


def _uncompared(week: Week) -> list[str]:
    """Name the analysers some of whose grabs of the week were compared with nothing, and how many."""
    in_week = pl.col("time").is_between(week.period.start, week.period.end, closed="left")
    found = []
    for name, case in week.cases.items():
        grabs = case.samples.filter(in_week & ~pl.col("below"))
        alone = grabs.join(case.pairs, on="time", how="anti").height if case.readings.height else 0
        if alone:
            found.append(f"{name} ({alone} of {grabs.height})")
    return found


def _areas(week: Week) -> list[dict[str, object]]:
    home = {name: tag.area for name, tag in week.plant.tags.items()}
    area = pl.col("tag").replace_strict(home, default="", return_dtype=pl.String()).alias("area")
    sums = (
        week.coverage.filter(pl.col("coverage_pct").is_not_null())
        .with_columns(area)
        .group_by("area")
        .agg(pl.len().alias("tags"), pl.col("expected").sum(), pl.col("good").sum())
    )
    by_area = {row["area"]: row for row in sums.iter_rows(named=True)}
    return [
        {"name": place.name, "tags": row["tags"], "pct": _share(row["good"], row["expected"])}
        for place in week.plant.file.area
        if (row := by_area.get(place.id))
    ]


def _share(good: int | None, expected: int | None) -> float | None:
    return min(100.0, 100.0 * (good or 0) / expected) if expected else None


def _tag(week: Week, row: dict[str, object]) -> dict[str, object]:
    tag = week.plant.tags.get(str(row["tag"]))
    seen, pct, gap = row["last_seen"], row["coverage_pct"], row["longest_gap_minutes"]
    return {
        "tag": row["tag"],
        "about": tag.description if tag else "",
        "pct": pct,
        "good": row["good"],
        "expected": row["expected"],
        "gap": duration(gap) if isinstance(gap, float | int) else NOTHING,
        "seen": moment(seen, week.period.zone) if isinstance(seen, datetime) else "never in this archive",
    }
