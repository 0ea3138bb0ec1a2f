"""Charts: a picture as a figure for plotly, and the HTML around both of its drawings."""

from datetime import datetime, timedelta
from html import escape
from itertools import pairwise
from json import dumps
from typing import Any

from markupsafe import Markup

from pipeline.report.axes import value_range
from pipeline.report.picture import Curve, Mark, Picture, Rule, thinned
from pipeline.report.render import fill
from pipeline.report.sketch import sketch

MOST_POINTS = 1500
HEIGHT_PX = 240
INK, ACCENT, ALERT, PALE, BAND = "#1d2a30", "#0b5a69", "#9a2a17", "#8b979b", "#dfe9e6"
ENVELOPE = "rgba(11,90,105,0.13)"
_LOOKS = {"counted": INK, "aside": PALE, "uncertain": ALERT, "other": ACCENT, "usual": ACCENT}
_SIZES = {"counted": 8, "uncertain": 7}
_FONT = {"family": "system-ui, Segoe UI, Helvetica, Arial, sans-serif", "size": 12, "color": INK}
_DAY_MS = 86_400_000
_TIME_AXIS = {
    "type": "date",
    "showline": True,
    "showgrid": False,
    "nticks": 6,
    "tickangle": 0,
    "tickformatstops": [
        {"dtickrange": [None, _DAY_MS - 1], "value": "%H:%M\n%a %-d %b"},
        {"dtickrange": [_DAY_MS, None], "value": "%-d %b"},
    ],
}

Figure = dict[str, Any]


def chart(picture: Picture | None) -> Markup:
    """Return the figure element of `picture`; a sentence where there is nothing to draw."""
    if picture is None:
        return Markup('<p class="quiet">No readings to draw.</p>')
    return fill("chart.html", picture=picture, still=sketch(picture), figure=as_json(figure(picture)))


def as_json(content: Figure) -> Markup:
    """Return `content` as JSON that cannot end the script element it stands in."""
    text = dumps(content, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    return Markup(text.replace("&", "\\u0026").replace("<", "\\u003c").replace(">", "\\u003e"))


def figure(picture: Picture) -> Figure:
    """Return ``data`` and ``layout`` as plotly takes them."""
    curves = [_trace(picture, curve) for curve in picture.curves]
    return {"data": _envelope(picture) + curves, "layout": _layout(picture)}


def _envelope(picture: Picture) -> list[Figure]:
    """Return what is usual as two edges, the room between them filled."""
    if picture.envelope is None:
        return []
    rows = picture.envelope.rows
    base: Figure = {
        "type": "scatter",
        "mode": "lines",
        "hoverinfo": "skip",
        "line": {"width": 0},
        "connectgaps": False,
        **_times([picture.local(time) for time, _, _ in rows]),
    }
    low = [None if edge is None else float(f"{edge:.6g}") for _, edge, _ in rows]
    high = [None if edge is None else float(f"{edge:.6g}") for _, _, edge in rows]
    return [{**base, "y": low}, {**base, "y": high, "fill": "tonexty", "fillcolor": ENVELOPE}]


def _trace(picture: Picture, curve: Curve) -> Figure:
    points = thinned(curve.points, MOST_POINTS)
    unit = escape(picture.unit).replace("%", "&#37;")
    trace: Figure = {
        "type": "scatter",
        "name": escape(curve.name),
        "mode": "markers" if curve.dots else "lines",
        "y": [None if value is None else float(f"{value:.6g}") for _, value in points],
        "hovertemplate": f"%{{x|%a %-d %b %H:%M}}<br>%{{y}} {unit}<extra></extra>",
        "connectgaps": False,
        **_times([picture.local(time) for time, _ in points]),
    }
    if curve.dots:
        trace["marker"] = {
            "color": _LOOKS[curve.look],
            "size": _SIZES.get(curve.look, 4),
            "symbol": "circle-open" if curve.look == "uncertain" else "circle",
        }
    else:
        trace["line"] = {"color": _LOOKS[curve.look], "width": 1.6 if curve.look == "counted" else 1.1}
    return trace


def _times(times: list[datetime]) -> Figure:
    """Write regular times as start and step: a fifth of the size of a list."""
    steps = {later - earlier for earlier, later in pairwise(times)}
    if len(steps) == 1:
        step = steps.pop()
        return {"x0": times[0].isoformat(), "dx": step / timedelta(milliseconds=1), "xaxis": "x"}
    return {"x": [time.isoformat(timespec="seconds") for time in times]}


def _layout(picture: Picture) -> Figure:
    low, high = value_range(picture.values)
    axis = {"gridcolor": "#e3e0d6", "linecolor": INK, "zeroline": False, "fixedrange": False}
    shapes, notes = _levels(picture)
    return {
        "height": HEIGHT_PX,
        "margin": {"l": 56, "r": 12, "t": 12, "b": 36},
        "paper_bgcolor": "rgba(0,0,0,0)",
        "plot_bgcolor": "rgba(0,0,0,0)",
        "font": _FONT,
        "showlegend": False,
        "hovermode": "closest",
        "xaxis": {**axis, **_TIME_AXIS, "range": _window(picture)},
        "yaxis": {**axis, "range": [low, high], **_value_ticks(picture)},
        "shapes": shapes,
        "annotations": notes,
    }


def _value_ticks(picture: Picture) -> Figure:
    if not picture.ticks:
        return {"nticks": 6}
    values, words = [value for value, _ in picture.ticks], [escape(word) for _, word in picture.ticks]
    return {"tickmode": "array", "tickvals": values, "ticktext": words}


def _window(picture: Picture) -> list[str]:
    return [picture.local(edge).isoformat(timespec="seconds") for edge in (picture.start, picture.end)]


def _levels(picture: Picture) -> tuple[list[Figure], list[Figure]]:
    shapes: list[Figure] = []
    notes: list[Figure] = []
    for shade in picture.shades:
        start, end = (picture.local(edge).isoformat() for edge in (shade.start, shade.end))
        shapes.append(_area(x0=start, x1=end, y0=0, y1=1, yref="paper", fillcolor="#efe3d3"))
    for band in picture.bands:
        shapes.append(_area(x0=0, x1=1, xref="paper", y0=band.low, y1=band.high, fillcolor=BAND))
    for mark in picture.marks:
        at = picture.local(mark.time).isoformat()
        shapes.append(_stroke(ACCENT, "dot", x0=at, x1=at, y0=0, y1=1, yref="paper"))
        notes.append(_mark_word(picture, mark))
    for rule in picture.rules:
        shapes.append(_rule_line(rule))
        if rule.firm:
            notes.append(_note(rule.label, ALERT, x=1, xref="paper", y=rule.value, xanchor="right"))
    return shapes, notes


def _mark_word(picture: Picture, mark: Mark) -> Figure:
    late = (mark.time - picture.start) / (picture.end - picture.start) > 0.7
    y, yanchor = (0, "bottom") if mark.at_foot else (1, "top")
    place = {"yref": "paper", "y": y, "yanchor": yanchor, "xanchor": "right" if late else "left"}
    return _note(mark.label, ACCENT, x=picture.local(mark.time).isoformat(), **place)


def _rule_line(rule: Rule) -> Figure:
    colour, dash = (ALERT, "dash") if rule.firm else (INK, "solid")
    return _stroke(colour, dash, x0=0, x1=1, xref="paper", y0=rule.value, y1=rule.value)


def _area(**place: Any) -> Figure:
    return {"type": "rect", "layer": "below", "line": {"width": 0}, **place}


def _stroke(colour: str, dash: str, **place: Any) -> Figure:
    return {"type": "line", "line": {"color": colour, "width": 1.2, "dash": dash}, **place}


def _note(text: str, colour: str, **place: Any) -> Figure:
    font = {"color": colour, "size": 11}
    base = {"text": escape(text), "showarrow": False, "yanchor": "bottom", "font": font}
    return {**base, **place}
