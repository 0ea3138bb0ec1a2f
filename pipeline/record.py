"""Record: what of a tag's readings a limit may rest on, held from one reading to the next."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any

import numpy as np
import polars as pl

from pipeline.case import Case
from pipeline.config.disinfection import Segment
from pipeline.config.limits import Limit
from pipeline.config.tags import Tag
from pipeline.episodes import Held, held, parted
from pipeline.epoch import instant_of
from pipeline.margin import sides

UNDER_SPAN, OVER_SPAN = 0.0125, 0.03125
"""How far past either end of its span an instrument still measures, in shares of the span: of a 4 to 20 mA
signal 3.8 to 20.5 mA is a measurement, beyond it a failure may be meant (NAMUR NE 43, from memory)."""

_BEGINNING = instant_of(0)
"""Where every record begins: the time before a tag's first reading is unknown, not left out."""


@dataclass(frozen=True)
class Contact:
    """A disinfection segment with the records of what is measured in it.

    Parameters
    ----------
    segment : Segment
    inputs : mapping of str to Held
        ``flow`` [gpm], ``residual`` [mg/L], ``ph``, ``temperature`` [degC] and, unless always full,
        ``level`` [ft]; a stuck value stands in none of them.
    """

    segment: Segment
    inputs: Mapping[str, Held]


@dataclass(frozen=True)
class Record:
    """A tag's record for judging limits.

    Parameters
    ----------
    case : Case
    held : Held
        All of it up to `Case.as_of`, masked time off the axis. A value that is no evidence that a limit was
        kept stands in it only where it lies outside: a stuck one, one that the instrument's span cannot
        hold, one of uncertain quality, one of a time of which nobody knows whether it meant anything.
    judged : DataFrame of ``time, value, good``
        The readings that `held` was made from, masked ones among them.
    second : Record or None
        Of the limit's second tag, for statistics that compare two.
    contacts : tuple of Contact
        The plant's disinfection segments, in the order of the water.
    """

    case: Case
    held: Held
    judged: pl.DataFrame = field(default_factory=pl.DataFrame)
    second: "Record | None" = None
    contacts: tuple[Contact, ...] = ()


def record(
    case: Case, limit: Limit, second: Case | None = None, contacts: tuple[Contact, ...] = ()
) -> Record:
    """Return the record of `case` as `limit` may use it, with that of its second tag."""
    # Where two tags are compared, the limit's number is none of either: no such value can be outside.
    own = None if limit.second_tag else limit
    stands = pl.col("good") & (_sound(case.tag, own) | _outside(own))
    if not case.uncertain.is_empty():
        stands = stands | (pl.col("time").is_in(case.uncertain.implode()) & _outside(own))
    judged = case.standing(stands)
    other = record(second, limit) if second is not None else None
    return Record(case, _held(case, judged, own), judged, other, contacts)


def sound(case: Case) -> Held:
    """Return the record of `case` without what is no evidence: what a calculation may rest on."""
    return case.once(_made_sound)


def _made_sound(case: Case) -> Held:
    return _held(case, case.standing(pl.col("good") & _sound(case.tag, None)), None)


def _held(case: Case, judged: pl.DataFrame, limit: Limit | None) -> Held:
    """Return the held record; where the state is not known, only what lies outside `limit` stands."""
    record, untold = parted(held(judged, case.masked, case.hold, _BEGINNING, case.as_of), case.untold)
    if not untold.any():
        return record
    stands = np.logical_or.reduce([~untold, *_beyond(limit, record.value)])
    return replace(record, value=np.where(stands, record.value, np.nan))


def _sound(tag: Tag, limit: Limit | None) -> pl.Expr:
    """Which readings can be evidence that `limit` was kept.

    What lies beyond the span on a limit's own side stands as it is: to drop it would flatter a mean.
    """
    low, high = tag.low, tag.high
    reach = (high - low) if low is not None and high is not None else 0.0
    sound = ~pl.col("stuck")
    if low is not None and (limit is None or limit.low is None):
        sound = sound & (pl.col("value") >= low - UNDER_SPAN * reach)
    if high is not None and (limit is None or limit.high is None):
        sound = sound & (pl.col("value") <= high + OVER_SPAN * reach)
    return sound


def compared(record: Record, limit: Limit) -> Record:
    """Return the record with every value rounded as the limit's ``rounding`` says."""
    if limit.rounding is None:
        return record
    found, where = np.unique(record.held.value, return_inverse=True)
    rounded = [limit.rounded(value) if np.isfinite(value) else value for value in found.tolist()]
    return replace(record, held=replace(record.held, value=np.array(rounded, float)[where]))


def _outside(limit: Limit | None) -> pl.Expr:
    return pl.any_horizontal(pl.lit(False), *_beyond(limit, pl.col("value"))).fill_null(False)


def _beyond(limit: Limit | None, value: Any) -> list[Any]:
    """For each of the limit's numbers, which of the values of a column or an array lie beyond it."""
    return [value > number if side > 0 else value < number for number, side in sides(limit)] if limit else []


def coverage_pct(record: Record, start: datetime, end: datetime) -> float:
    """Share of the time in service between two instants for which a reading stands [%]; 0 if none was."""
    part = record.held.between(start, min(end, record.case.as_of))
    return 100.0 * part.known_minutes / part.minutes if part.minutes > 0 else 0.0
