"""Demand: whether the water, not the meter, makes a flow of a sudden read more or less.

A meter that lies by a factor breaks every balance it takes part in, and leaves the meters beside it alone.
The demand does the reverse. Common practice, no source.
"""

from collections.abc import Iterator
from datetime import date, timedelta

import numpy as np
import polars as pl

from pipeline.case import Case, Relation
from pipeline.neighbours.daily import recorded

BEFORE = timedelta(days=7)

ALIKE_SHARE = 0.5
"""Of the change, on the logarithmic scale: so closely another meter must have it."""

LEAST_TIMES = 1.25
"""A flow that changed by less is the one it was."""

LEAST_LEFT = 1e-3
"""Of a side of a balance: less is nothing."""


def is_demand(case: Case, day: date, known: date) -> str:
    """Tell in a sentence that the change of a flow on `day` is the demand's; blank where nothing says so.

    Parameters
    ----------
    case : Case
        Of anything but a flow nothing is said.
    day, known : date
        Local day of the change; the last day that is looked at.
    """
    own = _passed(case, day, known) if case.tag.measures == "flow" else None
    changed = float(np.log(own[1] / own[0])) if own else 0.0
    if own is None or abs(changed) < np.log(LEAST_TIMES):
        return ""
    for relation in case.relations:
        if relation.reference.startswith("water balance") and _closes(relation, case, day, known):
            return f"The {relation.reference} closes as before: it is the water, not the meter."
    for other in case.company:
        passed = _passed(other, day, known) if other.tag.measures == "flow" else None
        if passed and abs(np.log(passed[1] / passed[0]) - changed) <= ALIKE_SHARE * abs(changed):
            return (
                f"{other.tag.tag} changed by about as much that day: it is the demand, or the unit of both."
            )
    return ""


def _closes(relation: Relation, case: Case, day: date, known: date) -> bool:
    """Whether a balance is what it was although the meter's change alone would have broken it."""
    own = _passed(case, day, known, "gpm")
    before, after = (relation.days.filter(days) for days in _days(day, known))
    if own is None or before.is_empty() or after.is_empty():
        return False
    allowed = float(np.median(after["allowed"]))
    moved = float(np.median(after["difference"]) - np.median(before["difference"]))
    flows = [_passed(one, day, known, "gpm") for one in relation.parties if one.tag.measures == "flow"]
    # All that comes in goes out: each side is half of what the meters show together.
    side = 0.5 * sum(passed[0] for passed in flows if passed)
    left = max(1.0 + (own[1] - own[0]) / side, LEAST_LEFT) if side > 0 else 1.0
    return abs(moved) <= allowed < abs(float(np.log(left)))


def _passed(case: Case, day: date, known: date, unit: str = "") -> tuple[float, float] | None:
    """Return the daily mean flow of the week before and of the days since [`unit`, by default its own].

    None where nothing flowed.
    """
    days = recorded(case, unit or case.tag.unit).group_by("day").agg(pl.col("value").mean())
    before, after = (days.filter(part)["value"].to_numpy() for part in _days(day, known))
    if not len(before) or not len(after):
        return None
    flow = float(np.median(before)), float(np.median(after))
    return flow if min(flow) > 0 else None


def _days(day: date, known: date) -> Iterator[pl.Expr]:
    """Conditions for the days before and after; the day of the change is neither."""
    yield (pl.col("day") >= day - BEFORE) & (pl.col("day") < day)
    yield (pl.col("day") > day) & (pl.col("day") <= known)
