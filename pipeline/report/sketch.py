"""Sketch: a picture as a small inline SVG of our own; prints, mails and needs no script."""

from datetime import datetime

from markupsafe import Markup

from pipeline.report.axes import time_ticks, value_range, value_ticks
from pipeline.report.picture import Curve, Picture, Rule, thinned

LEFT, RIGHT, TOP, BOTTOM = 50.0, 10.0, 12.0, 24.0
MOST_POINTS = 420
LEAST_WIDE = 500.0
"""A narrower drawing has fewer ticks and no words beside its marks."""


def sketch(picture: Picture, width: float = 600, height: float = 220) -> Markup:
    """Return `picture` as SVG; its words stand on the figure around it."""
    canvas = _Canvas(picture, width, height)
    parts = [*_ground(canvas), *_axes(canvas), *_levels(canvas)]
    for curve in picture.curves:
        parts += _curve(canvas, curve)
    body = Markup("").join(parts)
    box = f"0 0 {width:g} {height:g}"
    return Markup('<svg class="sketch" viewBox="{}" aria-hidden="true" focusable="false">{}</svg>').format(
        box, body
    )


class _Canvas:
    """Where times and values lie on the drawing."""

    def __init__(self, picture: Picture, width: float, height: float) -> None:
        self.picture = picture
        self.low, self.high = value_range(picture.values)
        self.first, self.last = picture.local(picture.start), picture.local(picture.end)
        self.right, self.bottom = width - RIGHT, height - BOTTOM
        self.wide = width >= LEAST_WIDE

    def x(self, local: datetime) -> float:
        share = (local - self.first) / (self.last - self.first)
        return LEFT + min(max(share, 0.0), 1.0) * (self.right - LEFT)

    def at(self, instant: datetime) -> float:
        return self.x(self.picture.local(instant))

    def y(self, value: float) -> float:
        return TOP + (self.high - value) / (self.high - self.low) * (self.bottom - TOP)


def _tag(name: str, text: str = "", **attributes: str | float) -> Markup:
    pairs = [
        Markup(' {}="{}"').format(key.rstrip("_").replace("_", "-"), _short(value))
        for key, value in attributes.items()
    ]
    return Markup("<{0}{1}>{2}</{0}>").format(name, Markup("").join(pairs), text)


def _short(value: str | float) -> str:
    return value if isinstance(value, str) else f"{value:.1f}".removesuffix(".0")


def _box(left: float, right: float, top: float, bottom: float, kind: str) -> Markup:
    return _tag("rect", x=left, y=top, width=max(right - left, 1), height=max(bottom - top, 1), class_=kind)


def _ground(canvas: _Canvas) -> list[Markup]:
    picture = canvas.picture
    parts = [
        _box(canvas.at(shade.start), canvas.at(shade.end), TOP, canvas.bottom, "shade")
        for shade in picture.shades
    ]
    parts += [
        _box(LEFT, canvas.right, canvas.y(band.high), canvas.y(band.low), "band") for band in picture.bands
    ]
    return parts + _envelope(canvas)


def _envelope(canvas: _Canvas) -> list[Markup]:
    """Return one closed shape for every stretch in which it is known, cut where the drawing ends."""
    parts, run = [], []
    rows = canvas.picture.envelope.rows if canvas.picture.envelope else ()
    for time, low, high in (*rows, (canvas.picture.end, None, None)):
        if low is not None and high is not None:
            edges = (min(max(canvas.y(edge), TOP), canvas.bottom) for edge in (high, low))
            run.append((canvas.at(time), *edges))
        elif run:
            there = "L".join(f"{x:.1f} {top:.1f}" for x, top, _ in run)
            back = "L".join(f"{x:.1f} {bottom:.1f}" for x, _, bottom in reversed(run))
            parts.append(_tag("path", d=f"M{there}L{back}Z", class_="envelope"))
            run = []
    return parts


def _axes(canvas: _Canvas) -> list[Markup]:
    parts = []
    ticks = canvas.picture.ticks or value_ticks(canvas.low, canvas.high, 4 if canvas.wide else 3)
    for value, text in ticks:
        y = canvas.y(value)
        parts.append(_tag("path", d=f"M{LEFT:g} {y:.1f}H{canvas.right:g}", class_="grid"))
        parts.append(_tag("text", text, x=LEFT - 6, y=y + 4, text_anchor="end"))
    for local, text in time_ticks(canvas.first, canvas.last, 6 if canvas.wide else 4, weekdays=canvas.wide):
        x = canvas.x(local)
        parts.append(_tag("path", d=f"M{x:.1f} {canvas.bottom:g}v4", class_="tick"))
        anchor = "end" if x > canvas.right - 34 else "start" if x < LEFT + 34 else "middle"
        parts.append(_tag("text", text, x=x, y=canvas.bottom + 18, text_anchor=anchor))
    parts.append(_tag("path", d=f"M{LEFT:g} {canvas.bottom:g}H{canvas.right:g}", class_="axis"))
    return parts


def _levels(canvas: _Canvas) -> list[Markup]:
    parts = []
    for mark in canvas.picture.marks:
        x = canvas.at(mark.time)
        parts.append(_tag("path", d=f"M{x:.1f} {TOP:g}V{canvas.bottom:g}", class_="mark"))
        near_end = x > canvas.right - 90
        place = {"x": x - 4 if near_end else x + 4, "y": canvas.bottom - 5 if mark.at_foot else TOP + 8}
        if canvas.wide:
            parts.append(_tag("text", mark.label, text_anchor="end" if near_end else "start", **place))
    for rule in canvas.picture.rules:
        parts += _rule(canvas, rule)
    return parts


def _rule(canvas: _Canvas, rule: Rule) -> list[Markup]:
    y = canvas.y(rule.value)
    line = _tag("path", d=f"M{LEFT:g} {y:.1f}H{canvas.right:g}", class_="rule" if rule.firm else "even")
    if not rule.firm:
        return [line]
    above = y - 5 if y > TOP + 14 else y + 13
    return [line, _tag("text", rule.label, x=canvas.right, y=above, text_anchor="end", class_="rule-word")]


def _curve(canvas: _Canvas, curve: Curve) -> list[Markup]:
    points = [
        (canvas.at(time), None if value is None else canvas.y(value))
        for time, value in thinned(curve.points, MOST_POINTS)
    ]
    parts = []
    if not curve.dots:
        steps, pen_up = [], True
        for x, y in points:
            if y is not None:
                steps.append(f"{'M' if pen_up else 'L'}{x:.1f} {y:.1f}")
            pen_up = y is None
        parts.append(_tag("path", d="".join(steps), class_=f"line {curve.look}"))
    radius = {"counted": 3.4, "uncertain": 3}.get(curve.look, 2)
    if curve.dots:
        parts += [
            _tag("circle", cx=x, cy=y, r=radius, class_=f"dot {curve.look}")
            for x, y in points
            if y is not None
        ]
    return parts
