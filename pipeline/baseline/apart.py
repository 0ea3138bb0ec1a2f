"""Apart: daily figures whose newest days stand apart from their own past, opened and closed by rules.

What is usual is learned for blocks of four weeks from the year before (`pipeline.baseline.blocks`): a
centre, and how far the mean of so many days in a row has strayed from it. Days of a spell teach nothing.
A spell is held against what was usual when it opened, however long it lasts.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from pipeline.baseline.blocks import blocks_of
from pipeline.baseline.trailing import lagged, trailing_means
from pipeline.spc.robust import median

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

WINDOWS = (2, 4, 7, 14)

LEARN_DAYS = 364
FEWEST_DAYS = 42
ONSET_DAYS = 28
QUIET_SHARE = 0.6
HOLD_DAYS = 14
HOLD_AFTER_SERVICE_DAYS = 3
SEASON_NEEDS_DAYS = 300
"""Days with a figure that hold all seasons."""

FORGET_DAYS = 182
"""A state that has lasted so long is from then on what is usual."""


@dataclass(frozen=True)
class Bar:
    """How far is apart.

    Parameters
    ----------
    height : float
        In scatters of the mean of so many days, a normal one's sd each.
    up, down : float
        Smallest departure that matters [unit of the figure]; infinite where that side is of no interest.
    fewest_days : int
        Days with a figure that the past must have.
    windows : tuple of int
        Lengths of the newest stretch that are looked at [d]; each has its own scatter.
    calm_window : int
        Which of them tells that it is over.
    newest_days : int
        So many newest days must each bear it out: one bad day makes no spell.
    """

    height: float
    up: float
    down: float
    fewest_days: int = FEWEST_DAYS
    windows: tuple[int, ...] = WINDOWS
    calm_window: int = 1
    newest_days: int = 2


@dataclass(frozen=True)
class Spell:
    """A stretch of days apart.

    Parameters
    ----------
    begin, crossed : int
        Rows: its first day, and the day on which what was known first sufficed.
    end : int or None
        Row of the first day on which it was over for good; None before that is known.
    calm : int or None
        Row since which one that is not over for good has been calm: what stirs again soon is still the same.
    usual, size : float
        The centre when it opened, and its mean departure from it by now.
    past_days : int
        Days that the centre rests on.
    """

    begin: int
    crossed: int
    end: int | None
    usual: float
    size: float
    past_days: int
    calm: int | None = None

    @property
    def over(self) -> int | None:
        """Row of the first day on which it was over, as far as is known by now; None while it lasts."""
        return self.calm if self.end is None else self.end


@dataclass
class _Usual:
    """What one block holds its days against: the centre of the days before it that teach, and their means."""

    centre: float
    days: int
    means: Floats
    teaches: Bools

    @cached_property
    def scatter(self) -> Floats:
        """How far the mean of so many days has strayed, for each window; asked for only where days stray."""
        off = np.sort(np.abs(self.means[:, self.teaches] - self.centre), axis=1)
        known = np.isfinite(off).sum(axis=1)
        at = np.maximum((0.95 * known).astype(np.int64) - 1, 0)
        scatter: Floats = off[np.arange(len(off)), at] / 1.96
        # A short past has seen little of what is usual.
        return scatter * (1.0 + FEWEST_DAYS / self.days)


@dataclass
class _Open:
    begin: int
    crossed: int
    usual: _Usual
    sign: float
    calm_below: float
    calm_since: int | None = field(default=None)


def spells(
    day: Floats,
    figure: Floats,
    bar: Bar,
    services: Sequence[float] = (),
    judged: Bools | None = None,
    replaced: Sequence[float] = (),
) -> list[Spell]:
    """Return the spells, oldest first; only the last may be open.

    Parameters
    ----------
    day : (n,) array
        Days since 1970-01-01, without holes in the calendar.
    figure : (n,) array
        NaN where a day has none.
    bar : Bar
    services : sequence of float
        Days on which someone was at the instrument: calm after that ends a spell sooner.
    judged : (n,) array of bool, optional
        Whether a block that begins with a row is judged at all.
    replaced : sequence of float
        Days on which another instrument came: a spell ends, and what was usual is learned anew.
    """
    known = figure[np.isfinite(figure)]
    if known.size == 0 or known.max() - known.min() < min(bar.up, bar.down):
        return []
    return _Walk(day, figure, bar, services, replaced).spells(judged)


class _Walk:
    def __init__(
        self, day: Floats, figure: Floats, bar: Bar, services: Sequence[float], replaced: Sequence[float]
    ) -> None:
        self.day, self.figure, self.bar = day, figure, bar
        self.means = trailing_means(figure, bar.windows)
        self.highest, self.lowest = np.fmax.reduce(self.means), np.fmin.reduce(self.means)
        self.teaches = np.isfinite(figure)
        self.serviced, self.replaced = (
            {int(one - day[0]) for one in days} if len(day) else set() for days in (services, replaced)
        )
        self.found: list[Spell] = []
        self.open: _Open | None = None
        self.free_from = 0  # before it, what was usual is usual no longer
        self.over_at = 0

    def spells(self, judged: Bools | None) -> list[Spell]:
        for _, here in blocks_of(self.day):
            usual = self._usual(here.start) if judged is None or judged[here.start] else None
            hits = self._hits(usual, here) if usual and self._strays(usual, here) else ()
            if self.open is None and not len(hits) and self.replaced.isdisjoint(range(here.start, here.stop)):
                continue
            for row in range(here.start, here.stop):
                if row in self.replaced:
                    self._restart(row)
                    usual = None
                elif self.open is not None:
                    self._watch(self.open, row)
                elif usual and row in hits:
                    self._begin(usual, row)
        if self.open is not None:
            self._close(self.open, None, self.open.calm_since)
        return self.found

    def _usual(self, row: int) -> _Usual | None:
        past = slice(max(row - LEARN_DAYS, self.free_from, 0), row)
        # What is usual stays as it is when a spell that begins later takes days away.
        teaches = self.teaches[past].copy()
        days = int(np.count_nonzero(teaches))
        if days < self.bar.fewest_days:
            return None
        return _Usual(median(self.figure[past][teaches]), days, self.means[:, past], teaches)

    def _strays(self, usual: _Usual, here: slice) -> bool:
        """Whether the mean of any stretch is as far from what is usual as matters; on most days none is."""
        highest, lowest = np.fmax.reduce(self.highest[here]), np.fmin.reduce(self.lowest[here])
        return bool(highest - usual.centre >= self.bar.up or usual.centre - lowest >= self.bar.down)

    def _hits(self, usual: _Usual, here: slice) -> Ints:
        """Rows of the days on which a stretch is far enough from what is usual, borne out by the newest."""
        off = self.means[:, here] - usual.centre
        least = np.where(off > 0, self.bar.up, self.bar.down)
        with np.errstate(invalid="ignore"):
            beyond = np.abs(off) >= least
            for newest in self._newest:
                beyond &= (newest[here] - usual.centre) * np.sign(off) >= QUIET_SHARE * least
            if beyond.any():
                beyond &= np.abs(off) >= self.bar.height * usual.scatter[:, None]
        return np.asarray(here.start + np.flatnonzero(beyond.any(axis=0)), np.int64)

    @cached_property
    def _newest(self) -> list[Floats]:
        """Figures of each of the newest days up to each; asked for only where days stray."""
        return [lagged(self.figure, lag) for lag in range(self.bar.newest_days)]

    def _begin(self, usual: _Usual, row: int) -> None:
        off = self.means[:, row] - usual.centre
        beyond = np.abs(off) / np.maximum(self.bar.height * usual.scatter, 1e-12)
        best = int(np.nanargmax(np.where(np.isfinite(beyond), beyond, -1.0)))
        sign = float(np.sign(off[best]))
        least = self.bar.up if sign > 0 else self.bar.down
        calm = QUIET_SHARE * min(max(least, self.bar.height * usual.scatter[-1]), abs(float(off[best])))
        begin = self._onset(usual, row, sign)
        if not self._is_sudden(usual, begin, row, sign, float(self.means[best, row])):
            return
        self.open = _Open(begin, row, usual, sign, calm)
        self.teaches[begin : row + 1] = False

    def _is_sudden(self, usual: _Usual, begin: int, row: int, sign: float, now: float) -> bool:
        """Whether it stands out from the four weeks before it too.

        A past that holds all seasons needs no such proof.
        """
        least = self.bar.up if sign > 0 else self.bar.down
        since = self.figure[begin : row + 1]
        known = since[np.isfinite(since)]
        if known.size == 0 or sign * (known.mean() - usual.centre) < QUIET_SHARE * least:
            return False
        before = self.figure[max(begin - ONSET_DAYS, 0) : begin]
        before = before[np.isfinite(before)]
        if usual.days >= SEASON_NEEDS_DAYS or len(before) < ONSET_DAYS // 2:
            return usual.days >= SEASON_NEEDS_DAYS
        return bool(sign * (now - np.median(before)) >= least)

    def _onset(self, usual: _Usual, row: int, sign: float) -> int:
        """First day of the stretch up to `row` that stands out most: sum squared over length."""
        first = max(row - ONSET_DAYS + 1, self.over_at)
        off = np.nan_to_num(sign * (self.figure[first : row + 1] - usual.centre))[::-1]
        known = np.maximum(np.isfinite(self.figure[first : row + 1])[::-1].cumsum(), 1)
        total = np.maximum(off.cumsum(), 0.0)
        return row - int(np.argmax(total**2 / known))

    def _watch(self, spell: _Open, row: int) -> None:
        self.teaches[row] = False
        recent = self.means[self.bar.calm_window, row]
        if np.isfinite(recent):
            is_calm = spell.sign * (recent - spell.usual.centre) < spell.calm_below
            spell.calm_since = None if not is_calm else row if spell.calm_since is None else spell.calm_since
        if spell.calm_since is not None and row - spell.calm_since >= self._hold(spell.calm_since):
            self.teaches[spell.calm_since : row + 1] = np.isfinite(self.figure[spell.calm_since : row + 1])
            self._close(spell, spell.calm_since)
        elif row - spell.crossed >= FORGET_DAYS:
            self.free_from = spell.begin
            self.teaches[spell.begin : row + 1] = np.isfinite(self.figure[spell.begin : row + 1])
            self._close(spell, row)

    def _hold(self, since: int) -> int:
        """Days of calm that end a spell; fewer where someone was at the instrument before them."""
        serviced = any(
            row in self.serviced for row in range(since - self.bar.windows[self.bar.calm_window], since + 2)
        )
        return HOLD_AFTER_SERVICE_DAYS if serviced else HOLD_DAYS

    def _restart(self, row: int) -> None:
        if self.open is not None:
            self._close(self.open, row)
        self.free_from = self.over_at = row

    def _close(self, spell: _Open, end: int | None, calm: int | None = None) -> None:
        until = calm if end is None else end
        size = float(np.nanmean(self.figure[spell.begin : until])) - spell.usual.centre
        told = Spell(spell.begin, spell.crossed, end, spell.usual.centre, size, spell.usual.days, calm)
        self.found.append(told)
        self.open, self.over_at = None, end or 0
