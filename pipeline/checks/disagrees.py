"""Disagrees: a reading that lasts beyond what its twin, its grabs or the water's own physics allow."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta

import polars as pl

from pipeline.advice import check_first
from pipeline.baseline.scale import amount
from pipeline.case import Case
from pipeline.clock import midnight
from pipeline.epoch import day_number
from pipeline.evidence.level import level_since
from pipeline.finding import Finding
from pipeline.neighbours.dispute import Dispute, disputes
from pipeline.neighbours.lab import Steady, steady_errors
from pipeline.wording import day_text, difference, moment, number, span


@dataclass(frozen=True)
class Settings:
    """What is more than a passing difference."""

    denied_minutes: float = 120.0
    """How long a flow must deny what its pump says, pumping or resting, added up over starts and
    stops [min]. Common practice, no source."""

    apart_hours: float = 24.0
    """Readings that deny it less than this apart are one finding [h]."""


def find(case: Case, settings: Settings) -> Iterator[Finding]:
    """Yield a finding for every lasting disagreement, reference by reference.

    With a twin, a pressure or a water balance the difference must be past the tolerances of all who take
    part, on three days of four; it is told of the instrument that the grabs, or failing those the oldest
    service, point at, and of the other one of a pair for the record.
    """
    if case.tag.is_state:
        return
    for relation in case.relations:
        for dispute in disputes(relation):
            if dispute.suspect == case.tag.tag or len(relation.parties) == 2:
                yield _of_dispute(case, dispute)
    if case.instrument is not None:
        yield from (_of_lab(case, steady) for steady in steady_errors(case))
    yield from _denials(case, settings)


def _of_dispute(case: Case, dispute: Dispute) -> Finding:
    relation, level = dispute.relation, _level(case, dispute)
    named = (
        None
        if relation.is_share or relation.is_pace
        else _amounts(case, dispute.difference, dispute.half, level)
    )
    estimate, low, high = named or (None, None, None)
    is_suspect = dispute.suspect == case.tag.tag
    return Finding(
        tag=case.tag.tag,
        instrument=case.device,
        kind="disagrees",
        severity="watch" if is_suspect else "note",
        crossed=dispute.crossed,
        start=midnight(dispute.start, case.zone),
        end=None if dispute.closed is None else midnight(dispute.closed, case.zone),
        reference=relation.reference,
        evidence=_words(case, dispute, named),
        check_first=check_first("disagrees", case.tag.measures),
        unit=case.tag.unit,
        estimate=estimate,
        ci_low=low,
        ci_high=high,
        tolerance=case.tolerance_at(level) if named else None,
        tolerance_source=case.instrument.tolerance_source if named and case.instrument else "",
        others=tuple(one.tag.tag for one in relation.parties if one.tag.tag != case.tag.tag and is_suspect),
    )


def _words(case: Case, dispute: Dispute, named: tuple[float, float, float] | None) -> str:
    relation, since = dispute.relation, day_text(midnight(dispute.start, case.zone), case.zone)
    allowed = _shown(case, dispute.allowed, None if named is None else _level(case, dispute))
    if relation.is_pace:
        way, reads = ("more", "low") if dispute.difference < 0 else ("less", "high")
        return (
            f"{abs(100 * dispute.difference):.0f} % {way} {relation.reference} than usual since {since}, "
            f"while its own reading was held; {relation.law}. Whether the water uses up {way} or the "
            f"analyser reads {reads} (or one of the meters is off) cannot be told from inside its own loop: "
            "take a grab."
        )
    size = f"{100 * abs(dispute.difference):.0f} %" if named is None else difference(case.tag, abs(named[0]))
    way = "above" if dispute.difference > 0 else "below"
    interval = "" if named is None else f" (95 % interval {_range(case, named)})"
    text = (
        f"Since {since} {size} {way} what {relation.reference} lets expect{interval}, past the {allowed} "
        f"that the tolerances of all who take part allow; {relation.law}."
    )
    return f"{text} {_who(case, dispute)}"


def _who(case: Case, dispute: Dispute) -> str:
    named = "this one" if dispute.suspect == case.tag.tag else dispute.suspect
    if dispute.by == "lab":
        return f"Lab grabs point at {named}."
    if dispute.by == "others":
        return f"It points at {named}, which is at odds with other instruments besides; take one by hand."
    if dispute.by == "attended":
        return f"All others were serviced or checked since, and it goes on: it points at {named}."
    names = " and ".join(one.tag.tag for one in dispute.relation.parties)
    return (
        f"Which of {names} is wrong cannot be told without a grab or a reading by hand; "
        f"{dispute.suspect} comes first: {_reason(dispute)}."
    )


def _reason(dispute: Dispute) -> str:
    suspect = next(one for one in dispute.relation.parties if one.tag.tag == dispute.suspect)
    served = suspect.services.filter(pl.col("time") <= midnight(dispute.crossed, suspect.zone)).height
    return "its last service is the oldest on record" if served else "no service of it is on record"


def _of_lab(case: Case, steady: Steady) -> Finding:
    named = _amounts(case, steady.error, steady.half, steady.level)
    way = "above" if steady.error > 0 else "below"
    start, tolerance = midnight(steady.start, case.zone), case.tolerance_at(steady.level)
    return Finding(
        tag=case.tag.tag,
        instrument=case.device,
        kind="disagrees",
        severity="act",
        crossed=steady.crossed,
        start=start,
        end=None if steady.closed is None else midnight(steady.closed, case.zone),
        reference="lab grab",
        evidence=(
            f"Reads {difference(case.tag, abs(named[0]))} {way} the lab in each of {steady.count} grabs "
            f"since {day_text(start, case.zone)} (95 % interval {_range(case, named)}), "
            f"{_course(case, steady)}; the bench or the sampling may be the one that is off."
        ),
        check_first=check_first("disagrees", case.tag.measures),
        unit=case.tag.unit,
        estimate=named[0],
        ci_low=named[1],
        ci_high=named[2],
        tolerance=tolerance,
        tolerance_source=case.instrument.tolerance_source if case.instrument else "",
    )


def _course(case: Case, steady: Steady) -> str:
    if steady.first is None:
        return "and does not go away"
    first, now = (abs(amount(case.tag, error, steady.level)) for error in (steady.first, steady.error))
    return f"{difference(case.tag, abs(now - first))} {'more' if now > first else 'less'} than at first"


def _denials(case: Case, settings: Settings) -> Iterator[Finding]:
    """Yield a finding for each spell of readings that deny the pump for long enough."""
    if case.contradictions.height == 0:
        return
    fewest = max(1, round(settings.denied_minutes * 60.0 / case.pace.total_seconds()))
    # One reading alone may be the end of a start or a stop: it counts once a second one bears it out.
    again = pl.int_range(pl.len()).over("running", "spell") > 0
    apart = pl.col("time").diff().over("running") >= timedelta(hours=settings.apart_hours)
    rows = case.contradictions.with_columns(
        again.alias("again"), apart.fill_null(False).cum_sum().over("running").alias("part")
    )
    for (running, _), part in rows.group_by("running", "part", maintain_order=True):
        counting = part.filter("again")
        if counting.height < fewest:
            continue
        lasts = bool(part["lasts"][-1])
        yield Finding(
            tag=case.tag.tag,
            instrument=case.device,
            kind="disagrees",
            severity="watch" if lasts else "note",
            crossed=counting["time"][fewest - 1].astimezone(case.zone).date(),
            start=part["time"][0],
            end=None if lasts else part["time"][-1] + case.pace,
            reference=f"state {part['when'][0]}",
            evidence=_denial(case, part, bool(running)),
            check_first=check_first("disagrees", case.tag.measures),
            unit=case.tag.unit,
        )


def _denial(case: Case, rows: pl.DataFrame, running: bool) -> str:
    middle, usual = rows["value"].median(), rows["usual"][-1]
    assert isinstance(middle, float)
    said = "running" if running else "not running"
    usually = f", where {number(case.tag, usual)} is usual" if running else ""
    either = (
        "the meter, the state or the pump itself"
        if running
        else "the meter, the state, or water that finds another way"
    )
    return (
        f"Shows {number(case.tag, middle)}{usually} while {rows['when'][0]} says {said}: {rows.height} "
        f"readings, {span(rows.height * case.pace)} in all since {moment(rows['time'][0], case.zone)}. "
        f"Which is wrong cannot be told from here: {either}."
    )


def _amounts(case: Case, error: float, half: float, level: float) -> tuple[float, float, float]:
    """Error with its interval [unit], from the working scale."""
    if not case.tag.is_log_scaled:
        half = max(half, case.tag.resolution or 0.0)
    estimate, one, other = (amount(case.tag, e, level) for e in (error, error - half, error + half))
    return estimate, min(one, other), max(one, other)


def _range(case: Case, named: tuple[float, float, float]) -> str:
    near, far = sorted((abs(named[1]), abs(named[2])))
    return f"{difference(case.tag, near if named[1] * named[2] > 0 else 0.0)} to {difference(case.tag, far)}"


def _shown(case: Case, allowed: float, level: float | None) -> str:
    if level is None or case.tag.is_log_scaled:
        return f"{100 * allowed:.0f} %"
    return difference(case.tag, allowed)


def _level(case: Case, dispute: Dispute) -> float:
    """Where the tag has read since the dispute began, until it closed or of late [unit]."""
    start, closed = day_number(dispute.start), dispute.closed
    return level_since(case, start) if closed is None else level_since(case, start, day_number(closed) - 1.0)
