"""Group: what overlaps in time on one flow path is one upset, with an id that later data never change.

Events are taken in the order in which they became known. One joins the upset that is still going on when it
begins, or begins anew; the id of an upset is the area and the beginning of the first event that was known.
A group becomes an upset when a limit was exceeded in it, when three tags moved together, or when one moved
where something was switched out of the ordinary, or when a state lasted twice as long as ever.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Literal

from pipeline.result import Excursion
from pipeline.upsets.path import Path

JOIN = timedelta(hours=3)
"""What begins so long after the rest was over still belongs to it: about a filter's or a reactor's delay.
Common practice, no source."""

LONGEST = timedelta(days=2)
"""Nothing joins an upset later than so long after its beginning."""

FEWEST_MOVERS = 3
"""Tags that must move together where no limit was exceeded."""

MANY_MOVERS = 5
"""Tags that move together and are worth a look even so."""

Severity = Literal["act", "watch", "note"]


@dataclass(frozen=True)
class Event:
    """A move of a tag, an excursion, or a switch out of the ordinary.

    Parameters
    ----------
    tag, area, plant : str
        Which tag, and where on which flow path.
    start, end : datetime
        [UTC]; `end` may lie in the future of `crossed`.
    crossed : datetime
        When it was known.
    peak : float [sd]
        Furthest departure of a move, signed; 0 for others.
    peak_at : datetime
    excursion : Excursion or None
    is_switch : bool
    lasting : bool
        A move that had not come back when it was given up.
    stands_alone : bool
        A state that lasted so long that nothing else need go with it.
    """

    tag: str
    area: str
    plant: str
    start: datetime
    end: datetime
    crossed: datetime
    peak: float
    peak_at: datetime
    excursion: Excursion | None = None
    is_switch: bool = False
    lasting: bool = False
    stands_alone: bool = False

    @property
    def is_move(self) -> bool:
        """Whether a measured tag left its usual course."""
        return self.excursion is None and not self.is_switch


@dataclass
class Upset:
    """What happened together; grown event by event."""

    events: list[Event] = field(default_factory=list)
    path: Path | None = None

    @property
    def upset_id(self) -> str:
        """Stable id: the area and the beginning of what was known first."""
        first = self.events[0]
        return f"{first.area}.{first.start.astimezone(UTC):%Y-%m-%dT%H%MZ}"

    @property
    def plant(self) -> str:
        """Which flow path: ``water`` or ``wastewater``."""
        return self.events[0].plant

    @property
    def start(self) -> datetime:
        """Beginning of the earliest event [UTC]."""
        return min(event.start for event in self.events)

    @property
    def end(self) -> datetime:
        """End of the last event [UTC]."""
        return max(event.end for event in self.events)

    @property
    def tags(self) -> list[str]:
        """Tags that moved or were outside, in the order of their first event."""
        every = sorted(self.events, key=_by_start)
        measured = [event for event in every if not event.is_switch]
        return list(dict.fromkeys(event.tag for event in measured or every))

    @property
    def excursions(self) -> list[Excursion]:
        """Limits exceeded, by start."""
        found = [event.excursion for event in self.events if event.excursion]
        return sorted(found, key=lambda one: (one.start, one.limit.limit_id))

    @property
    def severity(self) -> Severity:
        """The most pressing of its excursions; where no limit was exceeded, by how many tags moved."""
        held = {one.limit.severity for one in self.excursions}
        if not held:
            return "watch" if len(self.tags) >= MANY_MOVERS else "note"
        return "act" if "act" in held else "watch" if "watch" in held else "note"

    @property
    def is_one(self) -> bool:
        """Whether it is an upset whatever was switched."""
        moved = {event.tag for event in self.events if event.is_move}
        alone = any(event.stands_alone for event in self.events)
        return bool(self.excursions) or len(moved) >= FEWEST_MOVERS or alone

    def goes_with(self, switch: Event) -> bool:
        """Whether something was switched, where a tag moved, just before or while it did."""
        there = any(event.area == switch.area for event in self.events)
        return there and self.start - JOIN <= switch.start <= self.end

    def takes(self, event: Event) -> bool:
        """Whether `event` belongs to it, by what was known when the event was."""
        if event.plant != self.plant or event.start > self.events[0].start + LONGEST:
            return False
        late = max(one.end + self._travel(one, event) for one in self.events)
        return event.start <= late + JOIN and event.end >= self.start - JOIN

    def _travel(self, one: Event, other: Event) -> timedelta:
        return self.path.travel(one.area, other.area) if self.path else timedelta()


def upsets(events: Iterable[Event], path: Path | None = None) -> list[Upset]:
    """Return the upsets that `events` make, by their beginning.

    Parameters
    ----------
    events : iterable of Event
        Switches join nothing, unless they stand alone; they tell that a single move was more than one.
    path : Path, optional
        What begins in another area may be later by the time that water takes to get there.
    """
    every = sorted(events, key=_by_crossing)
    switched = [event for event in every if event.is_switch]
    groups: list[Upset] = []
    for event in every:
        if event.is_switch and not event.stands_alone:
            continue
        own = next((group for group in groups if group.takes(event)), None)
        if own is None:
            groups.append(Upset([event], path))
        else:
            own.events.append(event)
    found = [group for group in groups if group.is_one or any(group.goes_with(one) for one in switched)]
    return sorted(found, key=lambda one: (one.start, one.upset_id))


def _by_crossing(event: Event) -> tuple[object, ...]:
    return (event.crossed, event.start, event.tag, event.excursion is not None, event.is_switch)


def _by_start(event: Event) -> tuple[object, ...]:
    return (event.start, event.crossed, event.tag)


def first_of_each_tag(upset: Upset) -> Mapping[str, Event]:
    """Return the earliest event of every tag."""
    found: dict[str, Event] = {}
    for event in sorted(upset.events, key=_by_start):
        if not event.is_switch:
            found.setdefault(event.tag, event)
    return found
