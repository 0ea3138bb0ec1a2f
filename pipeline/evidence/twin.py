"""Twin: an instrument's errors against another one in the same water; a pair certifies a difference.

Which of the two is off the pair alone cannot tell; a grab does.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from pipeline.baseline.blocks import blocks_of
from pipeline.case import Case
from pipeline.evidence.bar import Spell
from pipeline.evidence.errors import BESIDE, HISTORY_DAYS, QUARANTINE_DAYS, Errors, day_numbers, once
from pipeline.evidence.thresholds import threshold
from pipeline.spc.robust import robust_sd, sd_and_memory

Floats = NDArray[np.float64]

TWIN_LIMIT = threshold("grab_limit")
"""Only how long a difference must have been gone for a spell to be over; what opens one is the estimate."""

TWIN_INFLATION = threshold("twin_inflation")
FEWEST_DAYS = 45
FEWEST_PIECE_DAYS = 14
PIECE_DAYS = 84.0
GRAB_DAYS, FEWEST_GRABS, HALF = 28.0, 3, 0.5
"""Newest grabs that may clear an instrument of what the pair shows: they show less than half of it."""

LEAST_SIGMA = 1e-6
"""Scatter of a pair that never differs [working scale]."""


@once
def against_twin(case: Case) -> Errors:
    """Return the daily difference to the twin, less the usual one of the two.

    The scatter is what is left of past differences about straight lines, so that the slow drift of
    sound instruments between services, which is no chance, does not count as such.
    """
    day = day_numbers(case.twin_days)
    value = case.twin_days["difference"].to_numpy().astype(np.float64)
    error, sigma, phi, level_sd = (np.full(len(day), np.nan) for _ in range(4))
    wander, complete = _about_lines(day, value, _service_days(case))
    for begin, here in blocks_of(day):
        past = (day < begin - QUARANTINE_DAYS) & (day >= begin - QUARANTINE_DAYS - HISTORY_DAYS)
        known = wander[complete <= begin]
        if past.sum() < FEWEST_DAYS or len(known) < FEWEST_DAYS:
            continue
        error[here] = value[here] - np.median(value[past])
        spread, phi[here] = sd_and_memory(known)
        sigma[here] = max(spread, LEAST_SIGMA)
        level_sd[here] = robust_sd(value[past]) / sigma[here]
    limit = np.full(len(day), TWIN_LIMIT)
    return Errors("twin instrument", day, error, sigma, phi, limit, 0.1, 84, TWIN_INFLATION, BESIDE, level_sd)


def _service_days(case: Case) -> Floats:
    """Days on which either of the two was serviced."""
    both = [one for one in (case, case.twin) if one is not None]
    return np.array(sorted({day for one in both for day in one.serviced_on()}))


def _about_lines(day: Floats, value: Floats, services: Floats) -> tuple[Floats, Floats]:
    """Return what is left of differences when straight lines are taken off, and when each line was complete.

    A line reaches from service to service and no further than its stretch of `PIECE_DAYS` on a fixed
    calendar, so that it never depends on what came later. Infinite where there is no line.
    """
    left, complete = np.full(len(day), np.nan), np.full(len(day), np.inf)
    if len(day) == 0:
        return left, complete
    stretches = np.arange(day[0] // PIECE_DAYS, day[-1] // PIECE_DAYS + 2) * PIECE_DAYS
    for begin, end in pairwise(np.unique(np.concatenate([stretches, services])).tolist()):
        part = slice(*np.searchsorted(day, [begin, end]))
        if part.stop - part.start >= FEWEST_PIECE_DAYS:
            line = np.polyfit(day[part] - begin, value[part], 1)
            left[part] = value[part] - np.polyval(line, day[part] - begin)
            complete[part] = end
    return left, complete


def uncleared(spells: Sequence[Spell], twin: Errors, grabs: Errors) -> Iterator[Spell]:
    """Yield the spells of a pair as far as this instrument's own grabs do not put them on the other one.

    Parameters
    ----------
    spells : sequence of Spell
        Against the twin.
    twin, grabs : Errors
        This instrument's.
    """
    for spell in spells:
        end = np.inf if spell.closed is None else spell.closed
        learned = grabs.day[(grabs.day > spell.crossed) & (grabs.day < end)].tolist()
        cleared = next((day for day in [spell.crossed, *learned] if _is_cleared(day, twin, grabs)), None)
        if cleared is None:
            yield spell
        elif cleared > spell.crossed:
            mattered = spell.matters_since if (spell.matters_since or np.inf) < cleared else None
            yield replace(spell, closed=cleared, matters_since=mattered)


def _is_cleared(day: float, twin: Errors, grabs: Errors) -> bool:
    """Whether the grabs of the last weeks show less than half of what the pair shows, and surely not all."""
    first, end = np.searchsorted(grabs.day, [day - GRAB_DAYS, day + 1.0])
    at = np.searchsorted(twin.day, grabs.day[first:end], side="right") - 1
    shown, error = twin.error[np.maximum(at, 0)], grabs.error[first:end]
    known = (at >= 0) & np.isfinite(shown / grabs.sigma[first:end])
    if known.sum() < FEWEST_GRABS:
        return False
    pair, own = float(np.median(shown[known])), float(np.median(error[known]))
    sd = grabs.inflation * float(grabs.sigma[end - 1]) / known.sum() ** 0.5
    return bool(own * np.sign(pair) < HALF * abs(pair) and abs(pair - own) > 2.0 * sd)
