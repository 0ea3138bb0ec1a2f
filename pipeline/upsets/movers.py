"""Movers: the tags that took part in an upset, since when each has moved, and which may have been first."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from pipeline.upsets.first import first_chances, named
from pipeline.upsets.grid import SLOT, Grid
from pipeline.upsets.group import JOIN, Event, Upset, first_of_each_tag
from pipeline.upsets.onset import BEFORE, LEAD, Onset, onset
from pipeline.upsets.path import Path
from pipeline.upsets.usual import SLOTS_A_DAY

Floats = NDArray[np.float64]

LEARN = 56 * SLOTS_A_DAY
NOTICED = 8
"""Quarter hours after the beginning of an upset about which the beginnings of quiet tags are looked for."""
QUIET_SIZE_SD, QUIET_FACTOR = 4.0, 1.5
"""A tag that no bar was crossed on takes part if it moved by so much and passes its own bar so clearly:
with sixty tags looked at, one in forty by chance would be one or two."""

PLATEAU = 8
"""Quarter hours after its peak that still tell how a move began; later ones tell how it ended."""
USUAL_SD = 1.0
SLOW = 4
"""Quarter hours for which a move may go on before it leads out of what is usual."""
SHARP = timedelta(hours=1)
"""Beginnings known so closely that, where they still overlap, they were one."""


@dataclass(frozen=True)
class Mover:
    """One tag that took part.

    Parameters
    ----------
    tag, area : str
    low, onset, high : datetime
        When it began to move, its dead time taken off: 5, 50 and 95 % [UTC].
    size : float [sd]
        Furthest departure, signed, at `peak_at`.
    chance_first : float
        Probability that it moved before all others.
    crossed : bool
        Whether it passed the bar of a move or a limit, and not only the bar of the search.
    """

    tag: str
    area: str
    low: datetime
    onset: datetime
    high: datetime
    size: float
    peak_at: datetime
    crossed: bool
    chance_first: float = 0.0


@dataclass(frozen=True)
class Order:
    """Who moved, by onset, and which of them may have been first, likeliest first.

    `watched` = tags of which enough was known to see them move.
    """

    movers: tuple[Mover, ...]
    first: tuple[str, ...]
    watched: frozenset[str] = frozenset()

    @property
    def together(self) -> bool:
        """Whether three or more began so close together that no order can be told."""
        ahead = [mover for mover in self.movers if mover.tag in self.first]
        latest, earliest = (
            max((m.low for m in ahead), default=None),
            min((m.high for m in ahead), default=None),
        )
        if len(ahead) < 3 or latest is None or earliest is None:
            return False
        return latest <= earliest and all(mover.high - mover.low <= SHARP for mover in ahead)

    def mover(self, tag: str) -> Mover | None:
        """Return the mover of that name."""
        return next((one for one in self.movers if one.tag == tag), None)


def order(upset: Upset, z: Mapping[str, Floats], areas: Mapping[str, str], grid: Grid, path: Path) -> Order:
    """Return who moved in an upset and who may have been first.

    Parameters
    ----------
    z : mapping of str to (n,) array [sd]
        Departures of every tag of the flow path on `grid`, with the eight weeks before the upset.
    areas : mapping of str to str
        Where each tag stands.
    """
    events = first_of_each_tag(upset)
    found: dict[str, Mover] = {}
    chances: dict[str, dict[int, float]] = {}
    watched = set()
    for tag, row in z.items():
        event = events.get(tag)
        anchor = grid.at(event.start) + 4 if event else grid.at(upset.start) + NOTICED
        past = row[max(anchor - BEFORE - LEAD - LEARN, 0) : max(anchor - BEFORE - LEAD, 0)]
        back = 0 if event else _back(row, anchor, grid.at(_reach(upset, areas[tag], path)))
        told = _onset(row, anchor, past, grid, event, back)
        if told is not None:
            watched.add(tag)
        near = row[max(anchor - BEFORE, back, 0) : anchor + 2 * NOTICED]
        if not _takes_part(told, event, near):
            continue
        chances[tag] = _chance(told, event, anchor, grid, path.dead(tag))
        found[tag] = _mover(tag, areas[tag], chances[tag], row, grid, upset, event)
    first = first_chances(_on_one_clock(chances))
    ranked = [replace(mover, chance_first=first[tag]) for tag, mover in found.items()]
    ranked.sort(key=lambda one: (one.onset, -one.chance_first, one.tag))
    return Order(tuple(ranked), tuple(named(first)), frozenset(watched))


def _reach(upset: Upset, area: str, path: Path) -> datetime:
    """Return when what is over in `area` can no longer be of the upset."""
    return upset.start - JOIN - path.travel(area, upset.events[0].area)


def _onset(
    row: Floats, anchor: int, past: Floats, grid: Grid, event: Event | None, back: int
) -> Onset | None:
    """Search for a beginning; that of an event lies before it was known, and not on its way back.

    That of a quiet tag lies after `back`; see `_back`.
    """
    rising = row.copy()
    if event is None:
        rising[anchor + 2 * NOTICED :] = np.nan
        told = onset(rising, anchor, past, (max(anchor - BEFORE, back), anchor + NOTICED))
        known = _crossing(rising, anchor, told.size, back) if told else None
        if known is None:
            return told
        return onset(rising, anchor, past, (_last_usual(row, known) - SLOW, known))
    known = min(grid.at(event.crossed), len(row) - 1)
    rising[max(known + 1, min(grid.at(event.peak_at) + PLATEAU, grid.at(event.end) - 2)) :] = np.nan
    return onset(rising, anchor, past, (_last_usual(row, known) - SLOW, known), event.peak)


def _crossing(row: Floats, anchor: int, size: float, back: int) -> int | None:
    """Position at which a tag that crossed no bar of its own first went out as far as to take part."""
    first = max(anchor - BEFORE, back, 0)
    out = np.flatnonzero(np.sign(size) * row[first : anchor + 2 * NOTICED] > QUIET_SIZE_SD)
    return first + int(out[0]) if len(out) else None


def _back(row: Floats, anchor: int, over: int) -> int:
    """Position at which a quiet tag was back from a move that was over before `over`; 0 where there was none.

    Such a move is another story: nothing could join it any more when the upset began.
    """
    first, over = max(anchor - BEFORE, 0), max(over, anchor - BEFORE, 0)
    away = np.flatnonzero(np.abs(np.nan_to_num(row[first:over])) > QUIET_SIZE_SD)
    if len(away) == 0:
        return 0
    last = first + int(away[-1])
    usual = np.flatnonzero(np.abs(row[last:over]) < USUAL_SD)
    return last + int(usual[0]) if len(usual) else 0


def _last_usual(row: Floats, known: int) -> int:
    """Position of the last quarter hour before `known` at which the tag stood within an sd of its usual."""
    first = max(known - BEFORE, 0)
    part = row[first:known]
    usual = np.flatnonzero(np.sign(np.nan_to_num(row[known])) * part < USUAL_SD)
    return first + int(usual[-1]) if len(usual) else first


def _takes_part(told: Onset | None, event: Event | None, near: Floats) -> bool:
    if event is not None:
        return True
    if told is None or not told.moved:
        return False
    furthest = float((np.sign(told.size) * np.nan_to_num(near)).max(initial=0.0))
    return furthest >= QUIET_SIZE_SD and told.score >= QUIET_FACTOR * told.bar


def _chance(
    told: Onset | None, event: Event | None, anchor: int, grid: Grid, dead: timedelta
) -> dict[int, float]:
    """Probability of each position on the grid; where the search says nothing, the event's own beginning."""
    if told is not None and (told.moved or event is None):
        raw = {anchor - BEFORE + k: float(p) for k, p in enumerate(told.chance) if p > 1e-9}
    else:
        assert event is not None
        at = grid.at(event.start)
        raw = {at - 1: 0.25, at: 0.5, at + 1: 0.25}
    whole, part = divmod(dead / SLOT, 1.0)
    shifted: dict[int, float] = {}
    for at, p in raw.items():
        for to, share in ((at - int(whole), 1.0 - part), (at - int(whole) - 1, part)):
            shifted[to] = shifted.get(to, 0.0) + p * share
    return {at: p for at, p in sorted(shifted.items()) if p > 0}


def _on_one_clock(chances: Mapping[str, Mapping[int, float]]) -> dict[str, Floats]:
    first = min((min(one) for one in chances.values()), default=0)
    last = max((max(one) for one in chances.values()), default=0)
    table = {}
    for tag, one in chances.items():
        table[tag] = np.zeros(last - first + 1)
        for at, p in one.items():
            table[tag][at - first] = p
    return table


def _mover(
    tag: str,
    area: str,
    chance: Mapping[int, float],
    row: Floats,
    grid: Grid,
    upset: Upset,
    event: Event | None,
) -> Mover:
    places, sums = np.array(list(chance)), np.cumsum(list(chance.values()))
    low, middle, high = (
        int(places[np.searchsorted(sums, q - 1e-12).clip(0, len(places) - 1)]) for q in (0.05, 0.5, 0.95)
    )
    begin, end = max(middle, 0), min(max(grid.at(upset.end) + 1, middle + 4), len(row))
    part = np.abs(np.nan_to_num(row[begin:end]))
    peak = begin + int(part.argmax()) if len(part) else begin
    size = float(np.nan_to_num(row[min(peak, len(row) - 1)]))
    return Mover(
        tag,
        area,
        grid.time(low),
        grid.time(middle),
        grid.time(high + 1),
        size,
        grid.time(peak),
        event is not None,
    )
