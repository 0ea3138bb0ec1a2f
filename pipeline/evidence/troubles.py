"""Troubles: spells of drift against several references put together where they lasted at the same time."""

from collections.abc import Sequence
from dataclasses import dataclass

from pipeline.evidence.bar import Spell

BEST_FIRST = ("lab grab", "twin instrument", "as found at services", "own history")
"""A grab tells which of two is off; a standard does, but not of today; the own past only something."""


@dataclass(frozen=True)
class Trouble:
    """One drift of one instrument.

    Parameters
    ----------
    spells : tuple of (reference, Spell)
        In the order in which they crossed.
    """

    spells: tuple[tuple[str, Spell], ...]

    @property
    def crossed(self) -> float:
        """Day on which the first reference had enough."""
        return min(spell.crossed for _, spell in self.spells)

    @property
    def matters_since(self) -> float | None:
        """Day since which it matters by any of them."""
        return min((s.matters_since for _, s in self.spells if s.matters_since is not None), default=None)

    @property
    def closed(self) -> float | None:
        """Day on which it was over by all of them; None while it lasts."""
        ends = [spell.closed for _, spell in self.spells]
        return None if None in ends else max(end for end in ends if end is not None)

    @property
    def told_by(self) -> tuple[str, Spell]:
        """The spell that it is told by: one that matters, then by the better reference."""
        lasting = [(name, spell) for name, spell in self.spells if spell.closed == self.closed]
        return min(lasting, key=lambda one: (one[1].matters_since is None, BEST_FIRST.index(one[0])))


def together(spells: Sequence[tuple[str, Spell]]) -> list[Trouble]:
    """Return one trouble for all spells that lasted when the next one crossed, oldest first."""
    found: list[Trouble] = []
    for one in sorted(spells, key=lambda one: (one[1].crossed, BEST_FIRST.index(one[0]))):
        last = found[-1] if found else None
        if last is not None and (last.closed is None or one[1].crossed < last.closed):
            found[-1] = Trouble((*last.spells, one))
        else:
            found.append(Trouble((one,)))
    return found
