"""Dossier: one upset on one page that loads nothing, with the window's readings beside it."""

from collections.abc import Iterator
from datetime import datetime, timedelta

import polars as pl
from markupsafe import Markup

from pipeline.report.charts import chart
from pipeline.report.dossier_views import lanes_view, tag_view, wave_view
from pipeline.report.page import page, scripts
from pipeline.report.render import fill, text_of
from pipeline.report.words import duration, moment, percent, scale_of, stretch
from pipeline.upsets.account import (
    account,
    first_names,
    furthest,
    is_beyond,
    named,
    switched,
    value_at,
    worst_uncertain,
)
from pipeline.upsets.inquiry import Inquiry
from pipeline.upsets.movers import Mover
from pipeline.upsets.switches import Switch
from pipeline.week import Week

SIGNS = {"act": ("outside", "For review"), "watch": ("near", "Watch"), "note": ("watch", "For the record")}
MOST_IN_TITLE = 3
MOST_SWITCHES = 12
"""More switches than that are listed only where they are out of the ordinary."""
LEAST_ALIKE = 0.45
"""Score below which nothing is called alike: windows in which something else happened come close to it."""
CAUTIONS = (
    "Order is evidence, not cause: what moves first need not be what drives the rest, and what drives the "
    "rest may not be recorded at all.",
    "Beginnings are known to a quarter of an hour at best. Of moves of less than four sds the wrong one is "
    "often called first.",
    "What is not measured, masked by its operating state or missing from the record cannot be first here.",
    "Possible exceedances are for review: what they mean is for the licensed operator, the permit and the "
    "state to say.",
)


def dossiers(week: Week) -> dict[str, str]:
    """Return the pages and readings of the week's upsets that were looked into, by file name."""
    found = {}
    for one in week.upsets:
        if one.usual:
            found[f"upsets/{one.name}.html"] = dossier(week.plant.name, one, "../weekly.html")
            found[f"upsets/{one.name}.csv"] = raw_values(one)
    return found


def dossier(plant: str, inquiry: Inquiry, home: str = "") -> str:
    """Return the page of an upset, or of a window.

    Parameters
    ----------
    plant : str
        Name of the plant.
    home : str
        Link to the page it belongs to; empty for none.
    """
    shown = [view for view in (tag_view(inquiry, tag) for tag in inquiry.usual) if view]
    lanes, told = lanes_view(inquiry), _worth_telling(inquiry)
    body = fill(
        "dossier.html",
        plant=plant,
        name=inquiry.name,
        home=home,
        title=_title(inquiry),
        sign=SIGNS[inquiry.upset.severity] if inquiry.upset else None,
        when=stretch(*_span(inquiry), inquiry.zone),
        account=account(inquiry) if inquiry.upset else [],
        charts=[chart(view) for view in [*shown, *([lanes] if lanes else [])]],
        alone=len(inquiry.order.first) == 1,
        movers=[_mover(inquiry, one) for one in inquiry.order.movers],
        excursions=list(_excursions(inquiry)),
        switches=[_switch(inquiry, one) for one in told],
        more_switches=len(inquiry.switches) - len(told),
        written=list(_written(inquiry)),
        findings=[
            (one.finding_id, named(inquiry, one.tag), one.evidence)
            for one in inquiry.findings
            if one.casts_doubt
        ],
        alike=list(_alike(inquiry)),
        waves=_waves(inquiry),
        coverage=list(_coverage(inquiry)),
        cautions=CAUTIONS,
        raw=f"{inquiry.name}.csv",
    )
    drawn = scripts() if "<figure" in body else Markup("")
    return page(f"{plant}, {_title(inquiry)}", "dossier", body, drawn, text_of("dossier.css"))


def raw_values(inquiry: Inquiry) -> str:
    """Return the readings of the window as CSV: a row an instant, a column a tag, blank where not good."""
    rows = [
        case.readings.filter(pl.col("good") & pl.col("time").is_between(inquiry.start, inquiry.end)).select(
            "time", pl.lit(name).alias("tag"), "value"
        )
        for name, case in inquiry.cases.items()
    ]
    every = (
        pl.concat(rows)
        if rows
        else pl.DataFrame(schema={"time": pl.Datetime("us", "UTC"), "tag": pl.String, "value": pl.Float64})
    )
    wide = every.pivot(
        on="tag", on_columns=list(inquiry.cases), index="time", values="value", aggregate_function="last"
    )
    times = [instant.astimezone(inquiry.zone).isoformat() for instant in wide["time"]]
    return wide.with_columns(pl.Series("time", times, dtype=pl.String)).sort("time").write_csv()


def _title(inquiry: Inquiry) -> str:
    if inquiry.upset is None:
        return "A window of the record"
    names = [named(inquiry, tag) for tag in first_names(inquiry)]
    if not names:
        return "Upset of which nothing can be called the first"
    return f"Upset that began with {' or '.join(names[:MOST_IN_TITLE])}"


def _span(inquiry: Inquiry) -> tuple[datetime, datetime]:
    return (inquiry.upset.start, inquiry.upset.end) if inquiry.upset else (inquiry.start, inquiry.end)


def _mover(inquiry: Inquiry, one: Mover) -> dict[str, object]:
    case = inquiry.cases[one.tag]
    scale, shown = scale_of(case.tag), furthest(inquiry, one)
    first = min(m.onset for m in inquiry.order.movers)
    return {
        "tag": one.tag,
        "about": case.tag.description,
        "began": moment(one.onset, inquiry.zone),
        "between": f"{moment(one.low, inquiry.zone)} – {moment(one.high, inquiry.zone)}",
        "after": duration((one.onset - first) / timedelta(minutes=1)) if one.onset > first else "",
        "travel": _travel(inquiry, one),
        "first": percent(100 * one.chance_first) if one.chance_first >= 0.005 else "",
        "peak": scale.full(shown[1]) if shown else "",
        "peak_at": moment(shown[0] if shown else one.peak_at, inquiry.zone),
        "size": _size(one) if worst_uncertain(inquiry, one) is None else "uncertain quality",
        "is_first": one.tag in inquiry.order.first,
        "crossed": one.crossed,
    }


def _size(one: Mover) -> str:
    return f"{'beyond ' * is_beyond(one)}{one.size:+.1f} sd".replace("-", "\N{MINUS SIGN}")


def _travel(inquiry: Inquiry, one: Mover) -> str:
    """Return how long the water takes from where it began, where the config says."""
    ahead = [m for m in inquiry.order.movers if m.tag in inquiry.order.first]
    source = max(ahead, key=lambda m: m.chance_first, default=None)
    if source is None or not inquiry.path.is_downstream(one.area, source.area):
        return ""
    return duration(inquiry.path.travel(source.area, one.area) / timedelta(minutes=1))


def _excursions(inquiry: Inquiry) -> Iterator[dict[str, object]]:
    for one in inquiry.upset.excursions if inquiry.upset else []:
        case = inquiry.cases.get(one.limit.tag)
        scale = scale_of(case.tag if case else None, one.unit)
        yield {
            "name": one.limit.name,
            "id": one.excursion_id,
            "when": stretch(one.start, one.end, inquiry.zone),
            "minutes": duration(one.minutes),
            "worst": scale.beside(one.worst, (one.limit.low, one.limit.high)),
            "worst_at": moment(one.worst_at, inquiry.zone),
            "source": one.limit.source,
        }


def _worth_telling(inquiry: Inquiry) -> list[Switch]:
    every = list(inquiry.switches)
    return every if len(every) <= MOST_SWITCHES else [one for one in every if one.is_rare]


def _switch(inquiry: Inquiry, one: Switch) -> dict[str, object]:
    return {"when": moment(one.time, inquiry.zone), "what": switched(inquiry, one), "rare": one.is_rare}


def _written(inquiry: Inquiry) -> Iterator[tuple[str, str, str]]:
    """Yield what people wrote down: when, on what, what."""
    lines: list[tuple[datetime, str, str]] = []
    for time, tag, value, unit, note in inquiry.grabs.select(
        "time", "tag", "value", "unit", "note"
    ).iter_rows():
        shown = value_at(inquiry, tag, time - timedelta(minutes=15))
        beside = f"; the instrument showed {shown:g}" if shown is not None else ""
        lines.append(
            (time, named(inquiry, tag), f"grab {value:g} {unit or ''}{beside}{'; ' + note if note else ''}")
        )
    for time, device, kind, note in inquiry.services.select("time", "instrument", "kind", "note").iter_rows():
        lines.append((time, device, f"{kind}{'; ' + note if note else ''}"))
    for start, end, subject, note in inquiry.maintenance.select(
        "start", "end", "subject", "note"
    ).iter_rows():
        until = f" until {moment(end, inquiry.zone)}" if end else ""
        lines.append((start, subject, f"maintenance{until}{'; ' + note if note else ''}"))
    for time, subject, text in sorted(lines):
        yield moment(time, inquiry.zone), subject, text


def _alike(inquiry: Inquiry) -> Iterator[dict[str, object]]:
    for one in inquiry.alike:
        if one.score >= LEAST_ALIKE:
            yield {
                "when": one.start.astimezone(inquiry.zone).strftime("%Y-%m-%d %H:%M"),
                "score": f"{one.score:.2f}",
                "log": "; ".join(one.log) or "nothing written down",
            }


def _waves(inquiry: Inquiry) -> list[Markup]:
    best = inquiry.alike[0] if inquiry.alike else None
    if best is None or best.score < LEAST_ALIKE:
        return []
    return [chart(wave_view(inquiry, wave, best.start)) for wave in inquiry.waves]


def _coverage(inquiry: Inquiry) -> Iterator[tuple[str, str, str]]:
    """Yield the tags of which less than all is known, and what that leaves open."""
    length = inquiry.end - inquiry.start
    for name, case in inquiry.cases.items():
        if case.tag.recording == "on change":
            continue
        rows = case.readings.filter(pl.col("time").is_between(inquiry.start, inquiry.end, closed="left"))
        expected = max(length / case.step, 1.0)
        good, counts = rows.filter("good").height / expected, rows.filter("usable").height / expected
        if good < 0.95:
            yield named(inquiry, name), percent(100 * min(good, 1.0)), "missing or bad readings"
        elif counts < 0.5 and not case.tag.is_state:
            yield named(inquiry, name), percent(100 * counts), "mostly out of its operating state"
