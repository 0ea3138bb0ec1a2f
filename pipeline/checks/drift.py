"""Drift: an error that grows until it is past the tolerance, or will be before the next service."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date
from functools import partial

import numpy as np
import polars as pl

from pipeline.advice import check_first
from pipeline.baseline.scale import amount, working
from pipeline.case import RESTARTS, Case
from pipeline.clock import midnight
from pipeline.config.tags import Tag
from pipeline.epoch import date_of, day_number
from pipeline.evidence.bar import Bar, Chances, Spell
from pipeline.evidence.errors import (
    QUARANTINE_DAYS,
    Errors,
    against_grabs,
    against_history,
    day_numbers,
)
from pipeline.evidence.level import at_process, has_tolerance, level_since, tolerance_on
from pipeline.evidence.services import Found, first_of, foreseen, seen_by_grabs, seen_by_history
from pipeline.evidence.thresholds import threshold
from pipeline.evidence.troubles import Trouble, together
from pipeline.evidence.twin import against_twin, uncleared
from pipeline.evidence.watch import spells
from pipeline.finding import Finding
from pipeline.wording import AGAINST, day_text, difference, digits, number

_AT_ONCE = 0.1
"""Where a ramp is no likelier than this, the error came at once, and no growth is told of it (no source)."""
_CLEARS = {"calibration": 1.0, "replacement": 1.0, "cleaning": 0.5}
"""Services that restart the watch, and how likely each takes the error away. Common practice, no source."""

_OVERDUE = 1.3
"""Past so many of its intervals a service is not to be waited for."""

_COMES_LATE = 0.15
"""Share of its interval that a due service may still take."""

_CERTAIN_BESIDE_TWIN = 0.85
"""How sure a small drift beside a twin must be for the record: the pair's own wander hides it for weeks."""

_OFTEN_DAYS = 3.0
"""Grabs that lie no further apart are asked so often that each answer must be surer."""


@dataclass(frozen=True)
class Settings:
    """What a drift is judged by."""

    own_history: tuple[str, ...] = ("ph", "chlorine", "turbidity", "conductivity", "orp", "uv_transmittance")
    """What is watched by its own past where there is no better reference. The others follow the demand, the
    weather or a controller too closely for their own past to tell a drift."""

    own_history_noted: tuple[str, ...] = ("flow",)
    """What is watched by its own past for the record only: it never asks for anybody."""

    fewest_grabs: int = 3
    grab_days: float = 56.0
    """So many grabs in so many days make the lab the reference."""

    wait_days: float = 5.0
    """How long a suspicion that rests on the own past must have lasted to matter [d]."""

    horizon_days: float = 28.0
    """How far ahead to look where no service is scheduled, or the next one is long overdue [d]."""

    longest_horizon_days: float = 56.0
    """How far ahead to look at most: what is further off can wait for a later list [d]."""


def find(case: Case, settings: Settings) -> Iterator[Finding]:
    """Yield a finding for every spell of drift.

    It is for the record while the error is certain but small, and on the list from the day on which it
    matters. The error's size, rate and interval come from `pipeline.spc.onset.weighed`.
    """
    if case.tag.is_state or case.instrument is None:
        return
    if not has_tolerance(case):
        return
    yield from (_finding(case, trouble) for trouble in together(_every(case, settings)))


def _every(case: Case, settings: Settings) -> list[tuple[str, Spell]]:
    """Return the spells against each reference that the instrument has."""
    bar, measures = bar_of(case, settings), case.tag.measures
    grabs, twin = against_grabs(case), against_twin(case)
    often = len(grabs.day) > 3 and float(np.median(np.diff(grabs.day))) <= _OFTEN_DAYS
    sure = {
        name: Chances(threshold(f"list_by_{name}")) for name in ("weekly_grab", "daily_grab", "twin", "own")
    }
    found = spells(grabs, replace(bar, chances=sure["daily_grab" if often else "weekly_grab"]))
    told = [(grabs.reference, spell) for spell in found]
    beside = replace(_of_both(bar, case.twin), chances=replace(sure["twin"], certain=_CERTAIN_BESIDE_TWIN))
    told += [(twin.reference, spell) for spell in uncleared(spells(twin, beside), twin, grabs)]
    if case.daily.height and case.services["as_found"].count():
        last = day_number(case.daily["day"][-1])
        by_log = replace(bar, chances=Chances(threshold("list_by_log")))
        seen = seen_by_grabs(grabs, case.serviced_on(_CLEARS))
        if measures in settings.own_history:
            seen = first_of(seen, seen_by_history(against_history(case)))
        told += [("as found at services", spell) for spell in foreseen(_log(case), last, by_log, seen)]
    if measures in settings.own_history or measures in settings.own_history_noted:
        chances = sure["own"] if measures in settings.own_history else Chances(matters=np.inf)
        alone = replace(bar, wait_days=settings.wait_days, chances=chances)
        told += _by_itself(case, settings, alone, (grabs, twin))
    return told


def _by_itself(
    case: Case, settings: Settings, bar: Bar, better: tuple[Errors, ...]
) -> list[tuple[str, Spell]]:
    """Return the spells against the own past, on the days on which there was no better reference."""
    day = day_numbers(case.daily)
    alone = day >= (day[0] + QUARANTINE_DAYS if len(day) else 0.0)
    for errors in better:
        known = errors.day[np.isfinite(errors.error)]
        since = np.searchsorted(known, day - settings.grab_days)
        until = np.searchsorted(known, day, side="right")
        alone &= until - since < settings.fewest_grabs
    if not alone.any():
        return []
    history = against_history(case)
    found = spells(replace(history, error=np.where(alone, history.error, np.nan)), bar)
    return [(history.reference, spell) for spell in found]


def bar_of(case: Case, settings: Settings) -> Bar:
    """Return what makes a drift of this instrument matter: its tolerance, and when it is serviced."""
    days = case.serviced_on(_CLEARS)
    interval = case.instrument.service_days if case.instrument else None

    def horizon(day: float) -> float:
        past = [service for service in days if service <= day]
        if not past or not interval or day > past[-1] + _OVERDUE * interval:
            return settings.horizon_days
        # A service comes when there is time for it: one that is due is not yet done.
        ahead = max(past[-1] + interval - day, _COMES_LATE * interval)
        return min(ahead, settings.longest_horizon_days)

    cleared = [_CLEARS[kind] for kind in case.services["kind"] if kind in _CLEARS]
    return Bar(partial(tolerance_on, case), horizon, days, 0.0, cleared, interval or 90.0)


def _of_both(bar: Bar, twin: Case | None) -> Bar:
    """Return the bar with the services of the twin besides: one of either may take the difference away."""
    if twin is None:
        return bar
    kinds = [kind for kind in twin.services["kind"] if kind in _CLEARS]
    own = zip(bar.services, bar.cleared, strict=True)
    others = zip(twin.serviced_on(_CLEARS), (_CLEARS[kind] for kind in kinds), strict=True)
    both = sorted([*own, *others])
    return replace(bar, services=[day for day, _ in both], cleared=[sure for _, sure in both])


def _log(case: Case) -> list[Found]:
    """Return what services found and left: on the working scale, as it counts where the tag reads."""

    def off(name: str) -> pl.Expr:
        return (working(case.tag, pl.col(name)) - working(case.tag, pl.col("reference"))).cast(pl.Float64)

    restarts = case.services.filter(pl.col("kind").is_in(list(_CLEARS)))
    rows = restarts.select(off("as_found").alias("found"), off("as_left").alias("left"), "reference")
    told = []
    for day, (found, left, reference) in zip(case.serviced_on(_CLEARS), rows.iter_rows(), strict=True):
        share = 1.0 if reference is None else at_process(case, day, reference)
        told.append(
            Found(day, np.nan if found is None else share * found, np.nan if left is None else share * left)
        )
    return told


def _finding(case: Case, trouble: Trouble) -> Finding:
    reference, spell = trouble.told_by
    tag, now = case.tag, spell.course
    last_day = trouble.closed if trouble.closed is not None else day_number(case.daily["day"][-1])
    level = level_since(case, now.onset, last_day)
    ends = (now.error, now.now.quantile(0.025), now.now.quantile(0.975))
    estimate, one, other = (amount(tag, error, level) for error in ends)
    least = 0.0 if tag.is_log_scaled else tag.resolution or 0.0
    interval = (estimate, min(one, other, estimate - least), max(one, other, estimate + least))
    grows = now.ramp_share > _AT_ONCE
    rate = 7.0 * (amount(tag, now.error + now.rate, level) - estimate) if grows else None
    tolerance = case.tolerance_at(level) or 0.0
    is_within = rate is None and max(-interval[1], interval[2]) < tolerance
    # What came at once and stays within the tolerance is past it neither now nor before the next service.
    listed = None if is_within else trouble.matters_since
    is_proven = spell.is_past and reference == "lab grab"
    return Finding(
        tag=tag.tag,
        instrument=case.device,
        kind="drift",
        severity="note" if listed is None else "act" if is_proven else "watch",
        crossed=date_of(trouble.crossed),
        start=midnight(date_of(now.onset), case.zone),
        end=None if trouble.closed is None else midnight(date_of(trouble.closed), case.zone),
        reference=reference,
        evidence=_evidence(case, reference, spell, interval, rate),
        check_first=check_first("drift", tag.measures),
        unit=tag.unit,
        estimate=estimate,
        ci_low=interval[1],
        ci_high=interval[2],
        rate_per_week=rate,
        tolerance=tolerance,
        tolerance_source=case.instrument.tolerance_source if case.instrument else "",
        reaches_tolerance_on=_reaches(estimate, rate, tolerance, spell),
        listed=None if listed is None else date_of(listed),
    )


def _reaches(estimate: float, rate: float | None, tolerance: float, spell: Spell) -> date | None:
    """Day on which the error passes, or passed, the tolerance: at its present rate, or as it came at once."""
    if rate is None:
        return date_of(spell.course.onset) if abs(estimate) >= tolerance else None
    growth = rate * np.sign(estimate)
    if growth <= 0:
        return None
    ahead = 7.0 * (tolerance - abs(estimate)) / growth
    return date_of(spell.measured + ahead) if abs(ahead) < 366 else None


_CANNOT_TELL = {
    "lab grab": "",
    "twin instrument": " Which of the two is off the pair alone cannot tell: take a grab.",
    "own history": " One sensor alone cannot tell a drift from a slow change of the water: take a grab.",
}


def _evidence(
    case: Case, reference: str, spell: Spell, error: tuple[float, float, float], rate: float | None
) -> str:
    tag = case.tag
    estimate, low, high = error
    direction = "above" if estimate > 0 else "below"
    near, far = sorted((abs(low), abs(high))) if low * high > 0 else (0.0, max(abs(low), abs(high)))
    bounds = f"(95 % interval {difference(tag, near)} to {difference(tag, far)})"
    since = day_text(midnight(date_of(spell.course.onset), case.zone), case.zone)
    if rate is None:
        how = f"since it came at once, about {since}"
    else:
        how = f"changing by {_signed(tag, rate)} a week since about {since}"
    if reference == "as found at services" and rate is not None:
        text = (
            f"The last service found that it had changed by {_signed(tag, rate)} a week since the one "
            f"before; if that goes on it reads {difference(tag, abs(estimate))} {direction} the truth by now "
            f"{bounds}."
        )
    else:
        text = (
            f"Reads {difference(tag, abs(estimate))} {direction} {AGAINST[reference]} {bounds}, {how}; "
            f"{spell.count} {'grabs' if reference == 'lab grab' else 'days'} {_held_since(case, spell)}."
        )
    return text + (_CANNOT_TELL[reference] if reference in _CANNOT_TELL else _compared_since(case, spell))


def _compared_since(case: Case, spell: Spell) -> str:
    """Say of a forecast what was measured since the service that it rests on."""
    grabs = case.pairs.filter(pl.col("day") > date_of(spell.course.onset)).height
    if not grabs:
        return " Nothing was measured since: a grab tells."
    return f" {grabs} {'grab' if grabs == 1 else 'grabs'} compared since, which tell more than this forecast."


def _held_since(case: Case, spell: Spell) -> str:
    """Return since when the evidence is counted: a service, where one before it is on record."""
    until = midnight(date_of(spell.course.onset + 1.0), case.zone)
    restarts = case.services.filter(pl.col("kind").is_in(RESTARTS) & (pl.col("time") < until))
    return "since its last service" if restarts.height else "of record, and no service of it on file"


def _signed(tag: Tag, value: float) -> str:
    """Return a rate with its sign; what rounds to nothing is less than its last decimal."""
    least = 10.0 ** -(digits(tag) + 1)
    if abs(value) < 0.5 * least:
        return f"less than {number(tag, least, extra=1)}"
    return number(tag, value, extra=1, signed=True)
