"""Upkeep: when each instrument is due for service, and what its own services say of the interval."""

from dataclasses import dataclass
from datetime import date, timedelta

from pipeline.case import Case
from pipeline.config.tolerances import tolerances
from pipeline.report.words import day_word, exact, plural, scale_of, tied
from pipeline.service.interval import Interval, interval, stretches
from pipeline.service.visits import Visit, visits
from pipeline.week import Week

AHEAD = timedelta(days=14)
"""Services due so soon after the period are told on the page."""

_HELD = {
    "record": "what its own record bears",
    "plan": "the plan; its own record would bear {borne} days",
    "rule": "guidance; its own record would bear {borne} days",
}


@dataclass(frozen=True)
class Upkeep:
    """One instrument's services.

    Parameters
    ----------
    case : Case
        Of the first tag it measures.
    place : str
        Where it stands.
    past : list of Visit
        Oldest first.
    plan_days : float or None
        From instruments.csv [d].
    interval : Interval or None
        None where too few services tell.
    last, due : date or None
        Of the last service; of the next, by the plan or by its record, whichever is sooner.
    between : str
        What a rule or guidance asks for between services.
    """

    case: Case
    place: str
    past: list[Visit]
    plan_days: float | None
    interval: Interval | None
    last: date | None
    due: date | None
    between: str

    @property
    def is_shorter(self) -> bool:
        """Whether its record bears less than the plan's interval."""
        return self.interval is not None and self.interval.held_by == "record" and self.plan_days is not None

    @property
    def worst(self) -> float | None:
        """Largest error that a service found [unit of the tag]."""
        errors = [visit.found.amount for visit in self.past if visit.found is not None]
        return max(errors, key=abs) if errors else None

    @property
    def found(self) -> str:
        """What its services found, in one sentence; empty where they tell nothing."""
        return _found(self)

    @property
    def held(self) -> str:
        """What holds the interval suggested."""
        if self.interval is None:
            return "too few services on file to say"
        return _HELD[self.interval.held_by].format(borne=round(self.interval.borne_days))


def upkeep(week: Week) -> list[Upkeep]:
    """Return the upkeep of every instrument that a tag names, in the config's order."""
    first: dict[str, Case] = {}
    for case in week.cases.values():
        if case.instrument is not None and not case.tag.is_state:
            first.setdefault(case.instrument.instrument, case)
    return [_of(first[name]) for name in week.plant.instruments if name in first]


def _of(case: Case) -> Upkeep:
    assert case.instrument is not None
    past = visits(case)
    known = tolerances().get(case.tag.measures)
    plan, rule = case.instrument.service_days, known.service_days if known else None
    told = interval(stretches(past), plan, rule)
    restarts = [visit.time.astimezone(case.zone).date() for visit in past if visit.restarts]
    last = restarts[-1] if restarts else None
    days = told.suggested_days if told else plan
    due = last + timedelta(days=days) if last and days else None
    between = known.between if known else ""
    return Upkeep(case, case.instrument.place, past, plan, told, last, due, between)


def due_soon(week: Week, every: list[Upkeep]) -> list[Upkeep]:
    """Return those due by a fortnight after the period, and those whose record bears less; soonest first."""
    until = week.period.end.astimezone(week.period.zone).date() + AHEAD
    wanted = [one for one in every if one.is_shorter or (one.due is not None and one.due <= until)]
    return sorted(wanted, key=lambda one: (one.due or date.max, one.case.device))


def _found(one: Upkeep) -> str:
    count = sum(visit.found is not None for visit in one.past)
    if one.worst is None:
        return ""
    text = f"{plural(count, 'service')} found it up to {scale_of(one.case.tag).error(one.worst)} off"
    if one.interval is not None:
        usual, fast = round(one.interval.usual_days), round(one.interval.borne_days)
        text += (
            f"; at its usual pace it passes its tolerance in {tied(str(usual), 'days')}, "
            f"at the fastest to expect in {tied(str(fast), 'days')}"
        )
    return f"{text}.{_failed(one)}{_parts(one)}"


def _failed(one: Upkeep) -> str:
    failure = one.interval.failure if one.interval else None
    if failure is None or failure.end is None:
        return ""
    when = day_word(failure.end.astimezone(one.case.zone).date(), year=True)
    return f" What was found on {when} is taken as a failure and no pace."


def _parts(one: Upkeep) -> str:
    """Tell fouling from calibration drift where the log lets them be told apart."""
    both = [visit for visit in one.past if visit.fouling is not None and visit.drift is not None]
    if not both:
        return ""
    scale, last = scale_of(one.case.tag), both[-1]
    assert last.fouling is not None and last.drift is not None
    when = day_word(last.time.astimezone(one.case.zone).date(), year=True)
    fouled, drifted = scale.error(last.fouling.amount), scale.error(last.drift.amount)
    return f" On {when} {fouled} of it was fouling and {drifted} calibration drift."


def due_row(week: Week, one: Upkeep) -> dict[str, str]:
    """Return what the page prints of one service that is due."""
    today = week.period.end.astimezone(week.period.zone).date()
    is_listed = any(entry.finding.instrument == one.case.device for entry in week.entries)
    is_over = one.due is not None and one.due < today
    return {
        "device": one.case.device,
        "about": one.case.tag.description,
        "place": one.place,
        "last": day_word(one.last, year=one.last.year != today.year) if one.last else "none on file",
        "plan": tied(exact(one.plan_days), "days") if one.plan_days is not None else "none on file",
        "due": day_word(one.due, year=one.due.year != today.year) if one.due else "not known",
        "over": "overdue" if is_over else "",
        "suggested": tied(exact(one.interval.suggested_days), "days") if one.interval else "",
        "held": one.held,
        "found": one.found,
        "between": one.between,
        "listed": "On the list above: of that its services do not know yet." if is_listed else "",
    }
