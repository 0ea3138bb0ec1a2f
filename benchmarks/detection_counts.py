"""Counts: a published row, and how rows are made from records of many sensors."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from benchmarks.scoring import Record, caught, delay
from benchmarks.scoring_rates import Share, share

Records = Sequence[Record]
Bars = tuple[float | None, float | None]
NONE: Bars = (None, None)
YEAR_DAYS = 365.25
NO_TEMPERATURE = ("ph", "chlorine", "turbidity", "flow")


@dataclass(frozen=True)
class Row:
    """One figure to publish.

    Parameters
    ----------
    id, what : str
    figure : float or None
        None where no check looks for it yet.
    unit : str
    better : {"higher", "lower"}
    target, floor : float or None
    n : int
    detail : str
        Interval or comment, for the table only.
    """

    id: str
    what: str
    figure: float | None
    unit: str
    better: Literal["higher", "lower"]
    target: float | None
    floor: float | None
    n: int
    detail: str = ""


def of(every: Records, *groups: str, measures: Iterable[str] = NO_TEMPERATURE) -> list[Record]:
    """Return the records of some groups and measures."""
    wanted = tuple(measures)
    return [one for one in every if one.group in groups and one.measure in wanted]


def found(records: Records, within_days: float) -> Share:
    """Share of faults that were named in time."""
    due = ((one, fault) for one in records for fault in one.faults if fault.is_due)
    return share(caught(one, fault, within_days) is not None for one, fault in due)


def delays(records: Records) -> list[float]:
    """Days to the crossing of every fault that was ever named."""
    due = ((one, fault) for one in records for fault in one.faults if fault.is_due)
    pairs = [(fault, caught(one, fault, np.inf)) for one, fault in due]
    return [delay(fault, said) for fault, said in pairs if said is not None]


def of_share(name: str, what: str, counted: Share, bars: Bars = NONE, better: str = "higher") -> Row:
    """Return the row of a share, with its interval beside it."""
    low, high = counted.interval
    detail = f"95 % {low:.2f}-{high:.2f}" if counted.n else ""
    way: Literal["higher", "lower"] = "higher" if better == "higher" else "lower"
    return Row(f"detection-{name}", what, rounded(counted.value), "", way, *bars, counted.n, detail)


def lower(
    name: str, what: str, value: float | None, unit: str, n: int, bars: Bars = NONE, detail: str = ""
) -> Row:
    """Return a row of which less is better."""
    return Row(f"detection-{name}", what, rounded(value), unit, "lower", *bars, n, detail)


def rounded(value: float | None) -> float | None:
    """Three decimals; None for what is not a number."""
    return None if value is None or not np.isfinite(value) else round(float(value), 3)
