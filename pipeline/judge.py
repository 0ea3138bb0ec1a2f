"""Judge: cases in, one week's findings, limits and excursions out; the middle of the job in order."""

from collections.abc import Callable, Mapping
from types import ModuleType
from typing import Any

import polars as pl
from pydantic import TypeAdapter, ValidationError

from pipeline import checks, limits
from pipeline.baseline.seasonal import LOOK_BACK, usual_course
from pipeline.case import Case
from pipeline.clock import Period
from pipeline.config.limits import Limit
from pipeline.config.load import Plant
from pipeline.config.plainly import plainly
from pipeline.coverage import coverage
from pipeline.errors import ConfigError, Fault
from pipeline.finding import Finding
from pipeline.outcomes import outcomes, unknown_answers
from pipeline.parts import parts
from pipeline.record import record
from pipeline.result import LimitResult
from pipeline.tally.course import inactivation
from pipeline.tally.doubt import by_tag, doubted
from pipeline.tally.hours import contacts
from pipeline.tally.margins import with_margins
from pipeline.triage import asking, calibration_list, came_back, longest_list, of_period, with_doubt
from pipeline.week import Week, known_until

Settings = dict[str, Any]


def settings_of(plant: Plant) -> Settings:
    """Return the settings of every check: its defaults with what ``[checks.<kind>]`` changes.

    Raises
    ------
    ConfigError
        A setting that the check does not know, or a value it cannot use.
    """
    chosen: Settings = {}
    faults: list[Fault] = []
    for kind, check in parts(checks).items():
        given = plant.file.checks.get(kind, {})
        known = check.Settings.__dataclass_fields__
        faults += [_unknown(kind, name, known) for name in given if name not in known]
        try:
            chosen[kind] = TypeAdapter(check.Settings).validate_python(
                {name: value for name, value in given.items() if name in known}
            )
        except ValidationError as error:
            faults += [_unusable(kind, dict(problem)) for problem in error.errors()]
    if faults:
        raise ConfigError(faults)
    return chosen


def _unknown(kind: str, name: str, known: Mapping[str, object]) -> Fault:
    remedy = f"use one of {', '.join(known)}"
    return Fault("config/plant.toml", None, f"checks.{kind}.{name}", "is not a setting of this check", remedy)


def _unusable(kind: str, problem: dict[str, Any]) -> Fault:
    told, remedy = plainly(problem)
    where = f"checks.{kind}.{problem['loc'][0]}"
    return Fault("config/plant.toml", None, where, told, remedy or "correct the value")


def find_all(cases: Mapping[str, Case], settings: Settings) -> list[Finding]:
    """Run every check over every case."""
    every: dict[str, ModuleType] = parts(checks)
    found: list[Finding] = []
    for case in cases.values():
        for kind, check in every.items():
            found += check.find(case, settings[kind])
        case.forget()
    return found


def assess_all(plant: Plant, cases: Mapping[str, Case], period: Period) -> list[LimitResult]:
    """Assess every limit of the plant, in the config's order."""
    statistics = parts(limits)
    segments = contacts(plant.file.disinfection_segment, cases)
    results = []
    for limit in plant.limits.values():
        assess = statistics[limit.statistic].assess
        held = record(cases[limit.tag], limit, cases.get(limit.second_tag), segments)
        results.append(with_margins(assess(held, limit, period), held, limit, period, assess))
    return results


def with_doubts(
    plant: Plant,
    cases: Mapping[str, Case],
    period: Period,
    results: list[LimitResult],
    findings: list[Finding],
) -> list[LimitResult]:
    """Return results, those that rest on an instrument in doubt with what they would be over its error."""
    open_ones = by_tag([one for one in findings if one.status != "cleared"])
    return [_with_doubt(plant, cases, period, result, open_ones) for result in results]


def _with_doubt(
    plant: Plant,
    cases: Mapping[str, Case],
    period: Period,
    result: LimitResult,
    asking: Mapping[str, Finding],
) -> LimitResult:
    limit = result.limit
    rests_on = _rests_on(plant, limit)
    start, end = result.period_start, result.period_end
    finding = next((f for tag, f in asking.items() if tag in rests_on and f.overlaps(start, end)), None)
    if finding is None:
        return result

    def look(change: Callable[[Case], Case]) -> LimitResult:
        less = {**cases, finding.tag: change(cases[finding.tag])}
        part = parts(limits)[limit.statistic]
        segments = contacts(plant.file.disinfection_segment, less) if _on_segments(limit) else ()
        held = record(less[limit.tag], limit, less.get(limit.second_tag), segments)
        told: LimitResult = part.assess(held, limit, period)
        return told

    return doubted(result, cases.get(finding.tag), finding, look)


def _on_segments(limit: Limit) -> bool:
    return bool(getattr(parts(limits)[limit.statistic], "RESTS_ON_SEGMENTS", False))


def _rests_on(plant: Plant, limit: Limit) -> list[str]:
    """Return the tags whose instruments a limit's result rests on; the lab's samples rest on none."""
    if limit.basis == "lab":
        return []
    if _on_segments(limit):
        return [tag for one in plant.file.disinfection_segment for tag, _ in one.units.values()]
    return [limit.tag, *([limit.second_tag] if limit.second_tag else [])]


def judge(
    plant: Plant,
    period: Period,
    cases: dict[str, Case],
    settings: Settings,
    verdicts: pl.DataFrame,
) -> Week:
    """Return everything the report of a period says; the same arguments give the same answer."""
    ever = find_all(cases, settings)
    findings = of_period(ever, period, verdicts)
    results = with_doubts(plant, cases, period, assess_all(plant, cases, period), findings)
    entries, beyond = calibration_list(findings, cases, plant.limits.values(), longest_list(period))
    excursions = sorted(
        (excursion for result in results for excursion in result.excursions),
        key=lambda e: (e.start, e.limit.limit_id),
    )
    drawn = {e.limit.tag for e in excursions} | {f.tag for f in findings}
    return Week(
        plant=plant,
        period=period,
        cases=cases,
        findings=tuple(findings),
        asking=frozenset(finding.finding_id for finding in asking(findings, cases)),
        came_back=tuple(came_back(findings, cases)),
        entries=tuple(entries),
        entries_beyond_cap=beyond,
        limits=tuple(results),
        excursions=tuple(with_doubt(excursions, findings)),
        coverage=coverage(cases, period),
        deliveries=pl.DataFrame(),
        verdict_tally=outcomes(ever, cases, verdicts, period),
        unknown_answers=unknown_answers(ever, verdicts),
        usual={tag: _usual(cases[tag], period) for tag in sorted(drawn) if not cases[tag].tag.is_state},
        inactivation=inactivation(
            contacts(plant.file.disinfection_segment, cases), period, known_until(period, cases)
        ),
    )


def _usual(case: Case, period: Period) -> pl.DataFrame:
    recent = case.readings.filter(pl.col("time") >= period.end - LOOK_BACK)
    return usual_course(recent).filter(pl.col("time") >= period.start)
