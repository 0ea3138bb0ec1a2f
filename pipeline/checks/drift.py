"""Drift: an error that grows until it is past the tolerance, or will be before the next service."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

import numpy as np
import polars as pl

from pipeline.advice import check_first
from pipeline.baseline.scale import amount, on_scale
from pipeline.case import Case
from pipeline.clock import midnight
from pipeline.config.tags import Tag
from pipeline.evidence.errors import Errors, against_grabs, against_history
from pipeline.evidence.watch import Bar, Spell, spells
from pipeline.finding import Finding
from pipeline.wording import day_text, number

_EPOCH = date(1970, 1, 1)
_RESTARTS = ("calibration", "cleaning", "replacement")


@dataclass(frozen=True)
class Settings:
    """What a drift is judged by."""

    own_history: tuple[str, ...] = ("ph", "chlorine", "turbidity", "conductivity", "orp", "uv_transmittance")
    """What is watched by its own past where no grabs are taken. The others follow the demand, the
    weather or a controller too closely for their own past to tell a drift."""

    fewest_grabs: int = 3
    grab_days: float = 56.0
    """So many grabs in so many days make the lab the reference."""

    wait_days: float = 5.0
    """How long a suspicion that rests on the own past must have lasted [d]."""

    horizon_days: float = 28.0
    """How far ahead to look where no service is scheduled, or the next one is overdue [d]."""


def find(case: Case, settings: Settings) -> Iterator[Finding]:
    """Yield a finding for every spell of drift that matters.

    The best reference decides: lab grabs where they are taken, else the instrument's own past. The
    error's size, rate and interval come from `pipeline.spc.onset.course`.
    """
    if case.tag.is_state or case.instrument is None:
        return
    if case.tolerance_at(_level(case, len(case.daily)) or 1.0) is None:
        return
    grabs = against_grabs(case)
    yield from _findings(case, settings, grabs, wait_days=0.0)
    if case.tag.measures in settings.own_history:
        history = _without_reference(against_history(case), grabs, settings)
        yield from _findings(case, settings, history, wait_days=settings.wait_days)


def _without_reference(history: Errors, grabs: Errors, settings: Settings) -> Errors:
    """Leave out the days on which the lab was the better reference."""
    since = np.searchsorted(grabs.day, history.day - settings.grab_days)
    until = np.searchsorted(grabs.day, history.day, side="right")
    history.error[(until - since) >= settings.fewest_grabs] = np.nan
    return history


def _findings(case: Case, settings: Settings, errors: Errors, wait_days: float) -> Iterator[Finding]:
    services = _services(case)

    def tolerance(day: float) -> float:
        level = _level(case, _row(case, day)) or 1.0
        allowed = case.tolerance_at(level)
        return on_scale(case.tag, allowed, level) if allowed is not None else np.inf

    def horizon(day: float) -> float:
        interval = case.instrument.service_days if case.instrument else None
        past = [service for service in services if service <= day]
        due = past[-1] + interval - day if past and interval else 0.0
        return due if due > 0 else settings.horizon_days

    for spell in spells(errors, Bar(tolerance, horizon, services, wait_days)):
        yield _finding(case, errors, spell)


def _services(case: Case) -> list[float]:
    kinds = case.services.filter(pl.col("kind").is_in(_RESTARTS))
    local = kinds["time"].to_list()
    return [_day_number(time.astimezone(case.zone).date()) for time in local]


def _finding(case: Case, errors: Errors, spell: Spell) -> Finding:
    tag, now = case.tag, spell.course
    last_day = spell.closed if spell.closed is not None else float(errors.day[-1])
    level = _level(case, _row(case, last_day)) or 1.0
    half = 1.96 * now.error_sd
    estimate, one, other = (amount(tag, e, level) for e in (now.error, now.error - half, now.error + half))
    rate = 7.0 * (amount(tag, now.error + now.rate, level) - estimate)
    tolerance = case.tolerance_at(level) or 0.0
    by_lab = errors.reference == "lab grab"
    return Finding(
        tag=tag.tag,
        instrument=case.device,
        kind="drift",
        severity="act" if spell.is_past and by_lab else "watch",
        crossed=_date(spell.crossed),
        start=_instant(case, now.onset),
        end=None if spell.closed is None else _instant(case, spell.closed),
        reference=errors.reference,
        evidence=_evidence(case, errors, spell, (estimate, min(one, other), max(one, other)), rate),
        check_first=check_first("drift", tag.measures),
        unit=tag.unit,
        estimate=estimate,
        ci_low=min(one, other),
        ci_high=max(one, other),
        rate_per_week=rate,
        tolerance=tolerance,
        tolerance_source=case.instrument.tolerance_source if case.instrument else "",
        reaches_tolerance_on=_reaches(estimate, rate, tolerance, last_day),
    )


def _reaches(estimate: float, rate: float, tolerance: float, day: float) -> date | None:
    """Day on which the error passes, or passed, the tolerance at its present rate."""
    growth = rate * np.sign(estimate)
    if growth <= 0:
        return None
    ahead = 7.0 * (tolerance - abs(estimate)) / growth
    return _date(day + ahead) if abs(ahead) < 366 else None


def _evidence(
    case: Case, errors: Errors, spell: Spell, error: tuple[float, float, float], rate: float
) -> str:
    tag = case.tag
    estimate, low, high = error
    direction = "above" if estimate > 0 else "below"
    against = {"lab grab": "the lab grabs", "own history": "where its own past lets expect it"}
    near, far = sorted((abs(low), abs(high))) if low * high > 0 else (0.0, max(abs(low), abs(high)))
    text = (
        f"Reads {_bare(tag, abs(estimate))} {direction} {against[errors.reference]} "
        f"(95 % interval {_bare(tag, near)} to {_bare(tag, far)}), changing by "
        f"{_signed(tag, rate)} a week since about {day_text(_instant(case, spell.course.onset), case.zone)}; "
        f"{spell.count} {'grabs' if errors.reference == 'lab grab' else 'days'} since its last service."
    )
    if errors.reference == "own history":
        text += " One sensor alone cannot tell a drift from a slow change of the water: take a grab."
    return text


def _bare(tag: Tag, value: float) -> str:
    return number(tag, value, extra=0) if tag.unit != "pH" else f"{value:.2f}"


def _signed(tag: Tag, value: float) -> str:
    return number(tag, value, extra=1, signed=True)


def _level(case: Case, row: int) -> float | None:
    """Median of the last four weeks' daily levels before a row of `Case.daily` [unit of the tag]."""
    level = case.daily["level"][max(row - 28, 0) : row].median()
    return float(level) if isinstance(level, float) else None


def _row(case: Case, day: float) -> int:
    """Row of `Case.daily` just after `day`."""
    return int(day - _day_number(case.daily["day"][0])) + 1 if case.daily.height else 0


def _day_number(day: date) -> float:
    return float((day - _EPOCH).days)


def _date(day: float) -> date:
    return _EPOCH + timedelta(days=int(np.floor(day)))


def _instant(case: Case, day: float) -> datetime:
    return midnight(_date(day), case.zone).astimezone(UTC)
