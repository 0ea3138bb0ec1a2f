"""Scoring of labelled records: what was said of a tag against what people found, event by event.

A finding is known from the end of the day its evidence crossed its bar. It names an event when it is of a
kind that says such a thing of such an instrument and was known by the end of the event or shortly after.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from benchmarks.scoring_rates import Share, share

_ERROR = ("drift", "step", "disagrees", "rescaled")
_ROUGH = ("noisy", "damped", "spikes", "strayed", "frozen", "pegged", "out_of_range", "coarser", "copied")
ANY = ("any",)

FOUND_BY: dict[str, tuple[str, ...]] = {
    "rejected": (*_ERROR, *_ROUGH),
    "drift": _ERROR,
    "malfunction": ANY,
    "fouling": (*_ERROR, "noisy", "damped", "spikes", "strayed", "pegged", "out_of_range"),
    "spikes": ("spikes", "strayed", "noisy", "out_of_range"),
    "out of water": ANY,
    "block": ("gap", "frozen", "pegged", "out_of_range"),
}
"""Kinds of finding that name a kind of event. Kinds that no check finds yet do no harm."""

EARLY = timedelta(days=1)
LATE, LATE_SPIKES = timedelta(days=3), timedelta(days=1)
"""How long after its end an event may still be named: a probe is swapped at the end of what is rejected, and
the step of the swap takes days to be sure of. Lone spikes lie so thick that they must be named at once."""


@dataclass(frozen=True)
class Event:
    """What people found.

    Parameters
    ----------
    tag : str
    kinds : frozenset of str
        Of FOUND_BY; empty where they did not say what was wrong.
    begin, end : datetime [UTC]
    is_sure : bool
        The readings were rejected or missing, not only suspect.
    flagged : timedelta or None
        For how long of it they were; None: all of it.
    """

    tag: str
    kinds: frozenset[str]
    begin: datetime
    end: datetime
    is_sure: bool = True
    flagged: timedelta | None = None

    def lasted(self, at_least: timedelta) -> bool:
        """Whether so much of it was flagged: lone readings hours apart are no long event."""
        return (self.end - self.begin if self.flagged is None else self.flagged) >= at_least

    def is_named_by(self, finding: str) -> bool:
        """Whether a kind of finding says what was wrong; anything does where people did not say."""
        named = [FOUND_BY[kind] for kind in self.kinds]
        return not named or any(one == ANY or finding in one for one in named)

    @property
    def last_call(self) -> datetime:
        """Until when a finding counts for it."""
        return self.end + (LATE_SPIKES if self.kinds == {"spikes"} else LATE)


@dataclass(frozen=True)
class Told:
    """One finding.

    Parameters
    ----------
    tag, kind : str
    known : datetime [UTC]
        End of the day its evidence crossed its bar.
    start, end : datetime [UTC]
        End None while it lasts.
    is_listed : bool
        Whether a week's calibration list held it.
    """

    tag: str
    kind: str
    known: datetime
    start: datetime
    end: datetime | None
    is_listed: bool = True


def is_found(event: Event, told: Iterable[Told]) -> bool:
    """Whether any finding names the event in time, newly made or still open."""
    return any(
        one.tag == event.tag
        and event.is_named_by(one.kind)
        and one.known <= event.last_call + timedelta(days=1)
        and one.start <= event.last_call
        and (one.end is None or one.end >= event.begin)
        for one in told
    )


def recall(
    events: Sequence[Event], told: Sequence[Told], kind: str, at_least: timedelta = timedelta()
) -> Share:
    """Share of the events of one kind that were named, of those that lasted so long."""
    wanted = [event for event in events if kind in event.kinds and event.lasted(at_least)]
    return share(is_found(event, told) for event in wanted)


def bears_out(event: Event, one: Told) -> bool:
    """Whether the event was under way when the finding was made, and is what it says."""
    day = timedelta(days=1)
    is_then = event.begin - EARLY <= one.known and one.known - day <= event.last_call
    return one.tag == event.tag and event.is_named_by(one.kind) and is_then


@dataclass(frozen=True)
class Sorted:
    """The listed findings, sorted by what people found.

    Parameters
    ----------
    right : tuple of Told
        An event that people named, or rejected readings, bear them out.
    open : tuple of Told
        Nobody can say: readings thought suspect for no named reason, or the probe put in their place
        showed such an error.
    wrong : tuple of Told
    """

    right: tuple[Told, ...]
    open: tuple[Told, ...]
    wrong: tuple[Told, ...]

    @property
    def precision(self) -> Share:
        """Share of those that can be told right from wrong; gaps are plain to see and left out."""
        right, wrong = (sum(one.kind != "gap" for one in part) for part in (self.right, self.wrong))
        return Share(right, right + wrong)


def sort_out(events: Sequence[Event], swaps: Sequence[Event], told: Iterable[Told]) -> Sorted:
    """Sort the listed findings.

    Parameters
    ----------
    events : sequence of Event
    swaps : sequence of Event
        Moments at which a fresh probe read otherwise by more than the tolerance.
    told : iterable of Told
    """
    right: list[Told] = []
    unsaid: list[Told] = []
    wrong: list[Told] = []
    for one in told:
        if not one.is_listed:
            continue
        behind = [event for event in events if bears_out(event, one)]
        if any(event.kinds or event.is_sure for event in behind):
            right.append(one)
        elif behind or any(bears_out(swap, one) for swap in swaps):
            unsaid.append(one)
        else:
            wrong.append(one)
    return Sorted(tuple(right), tuple(unsaid), tuple(wrong))


def clean_days(first: datetime, last: datetime, events: Iterable[Event]) -> float:
    """Days of one tag's record in which nothing that a finding could rest on was under way."""
    spans = sorted((max(e.begin - EARLY, first), min(e.last_call, last)) for e in events)
    covered, reached = timedelta(), first
    for begin, end in spans:
        begin = max(begin, reached)
        if end > begin:
            covered += end - begin
            reached = end
    return (last - first - covered) / timedelta(days=1)


def event_scores(
    events: Sequence[tuple[datetime, datetime]],
    alarms: Sequence[tuple[datetime, datetime]],
    slack: timedelta = timedelta(minutes=15),
) -> tuple[Share, Share]:
    """Return recall and precision of alarms on labelled events.

    An event is found by an alarm that stands between its begin and `slack` after its end; an alarm is right
    that finds one. An alarm before an event begins finds nothing.
    """

    def meet(event: tuple[datetime, datetime], alarm: tuple[datetime, datetime]) -> bool:
        return alarm[0] <= event[1] + slack and alarm[1] >= event[0]

    hits = share(any(meet(event, alarm) for alarm in alarms) for event in events)
    right = share(any(meet(event, alarm) for event in events) for alarm in alarms)
    return hits, right


def f1(hits: Share, right: Share) -> float | None:
    """Harmonic mean of recall and precision."""
    if not hits.n:
        return None
    both = (hits.value or 0.0) + (right.value or 0.0)
    return 2.0 * (hits.value or 0.0) * (right.value or 0.0) / both if both else 0.0
