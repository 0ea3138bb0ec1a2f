"""Dossier views: the pictures of one upset, all on one stretch of time."""

from datetime import datetime, timedelta

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.report.curves import recorded
from pipeline.report.picture import Curve, Envelope, Mark, Picture, Point, Rule, Shade
from pipeline.report.words import anchor, exact
from pipeline.result import Excursion
from pipeline.upsets.grid import SLOT
from pipeline.upsets.inquiry import Inquiry, Wave
from pipeline.upsets.movers import Mover
from pipeline.wording import moment, unit_word

_LANE = 0.7
"""Of a lane's height: what the curve of one state takes up."""
MOST_LANES = 12
USUAL = "usual course, two sds"


def tag_view(inquiry: Inquiry, tag: str) -> Picture | None:
    """Draw a tag's record with its usual course, its limits, and when it began to move."""
    case, mover = inquiry.cases[tag], inquiry.order.mover(tag)
    apart = max(case.quiet, case.step)
    curves = tuple(recorded(case, case.readings, inquiry.start, inquiry.end, apart))
    if not curves:
        return None
    shades = [
        Shade(one.start, one.end, "outside its limit") for one in _excursions(inquiry) if one.limit.tag == tag
    ]
    marks = (Mark(mover.onset, "began", at_foot=True),) if mover else ()
    if mover:
        shades.append(Shade(mover.low, mover.high, "began within, 90 %"))
    return Picture(
        anchor(f"{inquiry.name}-{tag}"),
        f"{tag} {case.tag.description}".strip(),
        _message(inquiry, tag, mover),
        unit_word(case.tag.unit),
        inquiry.zone,
        inquiry.start,
        inquiry.end,
        curves,
        rules=_limits(inquiry, tag),
        shades=tuple(shades),
        marks=marks,
        envelope=_usual(inquiry, tag),
        linked=True,
    )


def _excursions(inquiry: Inquiry) -> list[Excursion]:
    return inquiry.upset.excursions if inquiry.upset else []


def _usual(inquiry: Inquiry, tag: str) -> Envelope | None:
    course = inquiry.usual.get(tag)
    if course is None or course["expected"].null_count() == course.height:
        return None
    rows = course.filter(pl.col("time") < inquiry.end).select("time", "low", "high").rows()
    return Envelope(tuple(rows), USUAL)


def _limits(inquiry: Inquiry, tag: str) -> tuple[Rule, ...]:
    """Return the edges of the tag's own limits that the excursions of the upset crossed, or all of them."""
    found: dict[float, str] = {}
    for one in _excursions(inquiry):
        if one.limit.tag == tag:
            for edge in (one.limit.low, one.limit.high):
                if edge is not None:
                    found[edge] = f"limit {exact(edge)}"
    return tuple(Rule(edge, label) for edge, label in sorted(found.items()))


def _message(inquiry: Inquiry, tag: str, mover: Mover | None) -> str:
    if mover is None:
        return f"{tag} over the window."
    return f"{tag} over the window; it left its usual course about {moment(mover.onset, inquiry.zone)}."


def lanes_view(inquiry: Inquiry) -> Picture | None:
    """Draw the states of pumps, valves and filters, one lane each, those that changed."""
    changed = list(
        dict.fromkeys(one.tag for one in sorted(inquiry.switches, key=lambda s: (not s.is_rare, s.time)))
    )
    tags = [name for name in inquiry.cases if name in changed[:MOST_LANES]]
    curves, ticks = [], []
    for lane, tag in enumerate(reversed(tags)):
        points = _steps(inquiry, tag, float(lane))
        if points:
            curves.append(Curve(tag, points, "counted"))
            ticks.append((lane + _LANE / 2, tag))
    if not curves:
        return None
    marks = tuple(Mark(one.time, one.tag) for one in inquiry.switches if one.is_rare and one.tag in tags)
    return Picture(
        anchor(f"{inquiry.name}-states"),
        "States, one lane each: low is off or zero",
        f"States of {', '.join(tags)} over the window.",
        "",
        inquiry.zone,
        inquiry.start,
        inquiry.end,
        tuple(curves),
        marks=marks[:4],
        ticks=tuple(ticks),
        linked=True,
    )


def _steps(inquiry: Inquiry, tag: str, lane: float) -> tuple[Point, ...]:
    """Return a state as a stair in its lane."""
    case = inquiry.cases[tag]
    rows = case.readings.filter(pl.col("good") & (pl.col("time") < inquiry.end))
    top = max(max(case.tag.states.values(), default=1.0), 1.0)
    points: list[Point] = []
    level: float | None = None
    for time, value in (
        rows.filter(pl.col("time") >= inquiry.start - case.hold).select("time", "value").iter_rows()
    ):
        height = lane + _LANE * min(max(value / top, 0.0), 1.0)
        at = max(time, inquiry.start)
        if level is not None and level != height:
            points.append((at, level))
        if level != height:
            points.append((at, height))
        level = height
    if level is not None:
        points.append((inquiry.end, level))
    return tuple(points)


def wave_view(inquiry: Inquiry, wave: Wave, then: datetime) -> Picture:
    """Draw a tag's departures now and in the window most alike, side by side on the clock of now."""
    start = (inquiry.upset.start if inquiry.upset else inquiry.start) - timedelta(hours=2)
    count = len(wave.now)
    earlier = f"then, from {moment(then, inquiry.zone)}"
    curves = (
        Curve("now", _points(start, wave.now)),
        Curve(earlier, _points(start, wave.then), "other"),
    )
    return Picture(
        anchor(f"{inquiry.name}-alike-{wave.tag}"),
        f"{wave.tag}, departure from its usual course",
        f"{wave.tag} now and in the window most alike.",
        "sd",
        inquiry.zone,
        start,
        start + count * SLOT,
        curves,
        rules=(Rule(0.0, "usual", firm=False),),
    )


def _points(start: datetime, row: NDArray[np.float64]) -> tuple[Point, ...]:
    return tuple((start + k * SLOT, float(z) if np.isfinite(z) else None) for k, z in enumerate(row))
