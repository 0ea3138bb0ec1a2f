"""Rescaled: readings that are of a sudden multiplied, as when a unit, a span or a decimal was changed."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta
from itertools import zip_longest

import numpy as np
import polars as pl

from pipeline.advice import check_first
from pipeline.baseline.jumps import FAHRENHEIT, Jump, jumps
from pipeline.baseline.signal import Signal, signal_of
from pipeline.case import Case
from pipeline.finding import Finding
from pipeline.neighbours.demand import is_demand
from pipeline.wording import moment, number

_ANY: tuple[str, ...] = ()
_FLOWS = ("flow", "feed", "volume", "rain")
_HEADS = ("level", "pressure", "head_loss")
FACTORS: tuple[tuple[float, str, tuple[str, ...]], ...] = (
    (10.0, "a decimal place", _ANY),
    (100.0, "two decimal places, or a share for a percentage", _ANY),
    (1000.0, "a thousand", _ANY),
    (3.785, "litres for gallons", _FLOWS),
    (60.0, "minutes for hours or seconds for minutes", _FLOWS),
    (1440.0, "minutes for days", _FLOWS),
    (694.4, "gpm for MGD", _FLOWS),
    (448.8, "gpm for cubic feet a second", _FLOWS),
    (15.85, "gpm for L/s", _FLOWS),
    (4.403, "gpm for m3/h", _FLOWS),
    (3.6, "m3/h for L/s", _FLOWS),
    (16.67, "L/min for m3/h", _FLOWS),
    (24.0, "days for hours", _FLOWS),
    (86.4, "m3/d for L/s", _FLOWS),
    (2.307, "feet of water for psi", _HEADS),
    (3.281, "feet for metres", _HEADS),
    (6.895, "kPa for psi", _HEADS),
)
"""Factors between units that are mistaken for each other, and what is measured in them."""

NO_ZERO = ("temperature", "ph", "orp")
"""What is measured from no zero of its own: water that goes from 4 to 2 degC is not half of anything. Only a
factor between units tells of another scale there. Common practice, no source."""

SLACK = 0.04
ROUNDED = 0.5
"""Of a step of the display: so much rounding takes or gives."""

FORGET_DAYS = 182

NEAR = timedelta(hours=2)
"""A service is written down with the hour at which somebody came or left."""

NOTED_SHARE = 0.5
"""Of the jump: so closely the logbook must have its size. One that noted next to no change explains none."""


@dataclass(frozen=True)
class Settings:
    """What is worth a word."""

    least_factor: float = 1.25
    """Smallest factor, up or down. Smaller ones are errors, not another unit. Common practice, no source."""


def find(case: Case, settings: Settings) -> Iterator[Finding]:
    """Yield a finding for every jump of the level by a factor that came at once and stayed.

    Where the scatter grows with the level anyway (flow, turbidity) only a factor between known units is more
    than a note, and a flow's only where neither its balance nor the meters beside it call it the demand's
    (`pipeline.neighbours.demand`). One of no known factor that the logbook has as a service's is none, and
    of what has no zero (`NO_ZERO`) nothing but a known factor is. It is over when the level jumps back or
    on, and after half a year, when it is what is usual.
    """
    signal = signal_of(case)
    if signal is None:
        return
    found = jumps(signal, case.tag.resolution or 0.0, case.tag.is_log_scaled, settings.least_factor)
    away, since = 0.0, 0
    for jump, later in zip_longest(found, found[1:]):
        if jump.row - since > FORGET_DAYS:
            away = 0.0
        away, since = away + float(np.log(jump.factor)), jump.row
        is_back = abs(away) < float(np.log(settings.least_factor))
        if is_back or not _has_a_scale(case, jump) or _is_of_a_service(case, signal, jump):
            away = 0.0  # back where it was, where the water took it, or where it was put
        else:
            yield _finding(case, signal, jump, later)


def _has_a_scale(case: Case, jump: Jump) -> bool:
    """Whether a factor means anything there: of what has no zero only a known one."""
    has_zero = case.tag.measures not in NO_ZERO and not _is_of_degrees(jump)
    return has_zero or bool(_named(case, jump))


def _is_of_degrees(jump: Jump) -> bool:
    """Whether its differences grew by another factor than its level."""
    return abs(float(np.log(jump.scale / jump.factor))) > SLACK


def _is_of_a_service(case: Case, signal: Signal, jump: Jump) -> bool:
    """Whether the logbook has the jump: a service at that hour, from `as_found` to `as_left`.

    A known factor may be a slip of the service itself.
    """
    if _named(case, jump):
        return False
    at = signal.instant(jump.at)
    near = pl.col("time").is_between(at - NEAR, at + NEAR)
    noted = case.services.filter(near & (pl.col("as_found") > 0) & (pl.col("as_left") > 0))
    told = noted.select((pl.col("as_left") / pl.col("as_found")).log())["as_left"].to_numpy()
    jumped = float(np.log(jump.factor))
    return bool((np.abs(told - jumped) <= NOTED_SHARE * abs(jumped)).any())


def _finding(case: Case, signal: Signal, jump: Jump, later: Jump | None) -> Finding:
    start = signal.instant(jump.at)
    end = signal.instant(later.at) if later else None
    if (later.row if later else signal.days) - jump.row > FORGET_DAYS:
        end = signal.begin(jump.row + FORGET_DAYS, case.zone)
    named = _named(case, jump)
    demand = is_demand(case, signal.date(jump.row), signal.date(jump.crossed)) if named else ""
    named = "" if demand else named
    shown = jump.before * jump.factor
    return Finding(
        tag=case.tag.tag,
        instrument=case.device,
        kind="rescaled",
        severity="note" if not named and not jump.is_borne_out else "watch" if end or not named else "act",
        crossed=signal.date(jump.crossed),
        start=start,
        end=end,
        reference="own recording",
        evidence=(
            f"Jumped from about {number(case.tag, jump.before)} to {number(case.tag, shown)} at "
            f"{moment(start, case.zone)} and stayed{', its scatter with it' if jump.is_borne_out else ''}: "
            f"{_words(jump, named)}.{' ' if demand else ''}{demand}"
        ),
        check_first=check_first("rescaled", case.tag.measures),
        unit=case.tag.unit,
        estimate=shown - jump.before,
        ci_low=shown - jump.before * float(np.exp(SLACK)),
        ci_high=shown - jump.before * float(np.exp(-SLACK)),
        tolerance=case.tolerance_at(jump.before),
        tolerance_source=case.instrument.tolerance_source if case.instrument else "",
    )


def _named(case: Case, jump: Jump) -> str:
    """Return what the factor is known for; nothing where it is none of the known ones."""
    measures = case.tag.measures
    if _is_of_degrees(jump):
        word = "degrees F for C" if jump.scale > 1 else "degrees C for F"
        return word if measures == "temperature" else ""
    slack = SLACK
    if measures in NO_ZERO:
        # Half a step of the display is much of a tenth of 8.3 degrees; of most of it nothing is told.
        rounded = ROUNDED * (case.tag.resolution or 0.0) / (jump.before * min(jump.factor, 1.0))
        slack += min(rounded, SLACK)
    size = abs(float(np.log(jump.factor)))
    known = ((word, factor) for factor, word, of in FACTORS if not of or measures in of)
    return next((word for word, factor in known if abs(size - np.log(factor)) <= slack), "")


def _words(jump: Jump, named: str) -> str:
    if named.startswith("degrees"):
        return f"{FAHRENHEIT[0]:g} degrees F to a degree C, {named}"
    up = jump.factor > 1
    times = f"{jump.factor:.3g} times as much" if up else f"1/{1 / jump.factor:.3g} as much"
    return f"{times}, {named} {'or so' if up else 'the other way round'}" if named else times
