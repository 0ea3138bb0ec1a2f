"""Picture: what a chart shows, before anything is drawn; the sketch and the live chart say the same."""

from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo
from typing import Literal

Point = tuple[datetime, float | None]
Look = Literal["counted", "aside", "uncertain", "other", "usual"]


@dataclass(frozen=True)
class Curve:
    """Values over time; None breaks the line.

    `aside` = recorded, but not counted; `uncertain` = of uncertain quality, drawn hollow, told apart without
    colour; `other` = another tag.
    """

    name: str
    points: tuple[Point, ...]
    look: Look = "counted"
    dots: bool = False


@dataclass(frozen=True)
class Rule:
    """A level across the chart: a limit (`firm`), or where sensor and lab agree."""

    value: float
    label: str
    firm: bool = True


@dataclass(frozen=True)
class Band:
    """What an instrument may be off."""

    low: float
    high: float
    label: str


@dataclass(frozen=True)
class Envelope:
    """What is usual from moment to moment: ``(time, low, high)``; None parts it."""

    rows: tuple[tuple[datetime, float | None, float | None], ...]
    label: str


@dataclass(frozen=True)
class Shade:
    """A stretch of time that the chart is about."""

    start: datetime
    end: datetime
    label: str


@dataclass(frozen=True)
class Mark:
    """One instant worth a line: a service, an onset."""

    time: datetime
    label: str
    at_foot: bool = False


@dataclass(frozen=True)
class Picture:
    """One chart.

    Parameters
    ----------
    name : str
        Id on the page.
    title, message : str
        What is drawn; what it says, in a sentence, for those who cannot see it.
    unit : str
        As printed.
    start, end : datetime
        The window [UTC].
    envelope : Envelope, optional
    ticks : tuple of (float, str)
        What stands at the axis instead of numbers.
    linked : bool
        Whether it zooms in time together with the other linked charts of its page.
    """

    name: str
    title: str
    message: str
    unit: str
    zone: tzinfo
    start: datetime
    end: datetime
    curves: tuple[Curve, ...]
    rules: tuple[Rule, ...] = ()
    bands: tuple[Band, ...] = ()
    shades: tuple[Shade, ...] = ()
    marks: tuple[Mark, ...] = ()
    envelope: Envelope | None = None
    ticks: tuple[tuple[float, str], ...] = ()
    linked: bool = False

    def local(self, instant: datetime) -> datetime:
        """Return wall clock at the offset of the window's start, so that no chart ever runs backwards."""
        offset = self.start.astimezone(self.zone).utcoffset() or timedelta()
        return (instant + offset).replace(tzinfo=None)

    @property
    def changes_clock(self) -> bool:
        """Whether the clocks change within a window short enough to read hours from."""
        if self.end - self.start > timedelta(days=10):
            return False
        return self.start.astimezone(self.zone).utcoffset() != self.end.astimezone(self.zone).utcoffset()

    @property
    def values(self) -> list[float]:
        """Every level that must be visible."""
        found = [value for curve in self.curves for _, value in curve.points if value is not None]
        found += [rule.value for rule in self.rules]
        found += [value for value, _ in self.ticks]
        return found + [edge for band in self.bands for edge in (band.low, band.high)]


def broken(points: list[Point], step: timedelta) -> list[Point]:
    """Put a None into every hole wider than one and a half steps, so that no line crosses it."""
    result: list[Point] = []
    for time, value in points:
        if result and time - result[-1][0] > 1.5 * step:
            result.append((result[-1][0] + step, None))
        result.append((time, value))
    return result


def thinned(points: tuple[Point, ...], most: int) -> tuple[Point, ...]:
    """Return at most about `most` points: of each equal share the lowest, the highest and one hole."""
    if len(points) <= most:
        return points
    share = -(-len(points) * 3 // most)
    kept: list[Point] = []
    for first in range(0, len(points), share):
        kept += _extremes(points[first : first + share])
    return tuple(kept)


def _extremes(share: tuple[Point, ...]) -> list[Point]:
    known = [(value, place) for place, (_, value) in enumerate(share) if value is not None]
    holes = [place for place, (_, value) in enumerate(share) if value is None]
    places = {min(known)[1], max(known)[1]} if known else set()
    return [share[place] for place in sorted(places | set(holes[:1]))]
