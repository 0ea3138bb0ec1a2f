"""Weeks made up for the report's tests: one troubled in every way, one quiet, one empty, one nasty."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import polars as pl

from pipeline.case import Case
from pipeline.config.load import Plant
from pipeline.coverage import coverage
from pipeline.finding import Finding
from pipeline.result import Excursion, LimitResult
from pipeline.week import Entry, Week
from tests.report import findings as found
from tests.report.harrow_fork import PERIOD, at, cases, changed, daily, grabs, plant, service, without

NASTY = "<script>alert(\"x\")</script> & 'quotes' [brackets] </script><!-- %{y} " + "verylongname" * 30
NASTY_TAG = "AIT-<131>\"'"

_QUIET = {
    "IFE-121": 0.071,
    "IFE-123": 0.08,
    "CFE-1.0": 0.071,
    "CL2-RULE": 0.98,
    "CL2-LOW": 0.98,
    "PH-FIN": 7.9,
    "CW-LOW": 8.4,
    "EFF-PH": 7.31,
    "EFF-FLOW": 0.56,
}


def quiet_week() -> Week:
    """All instruments sound, all limits kept."""
    of = plant()
    return _week(of, cases(of), [_within(of, name, value) for name, value in _QUIET.items()])


def empty_week() -> Week:
    """Nothing: the exports did not come."""
    of = plant()
    before = pl.col("time") < PERIOD.start - timedelta(days=2)
    known = {name: replace(case, readings=case.readings.filter(before)) for name, case in cases(of).items()}
    results = [
        LimitResult(limit, PERIOD.start, PERIOD.end, "not assessable", limit.unit)
        for limit in of.limits.values()
    ]
    week = _week(of, known, results)
    return replace(week, deliveries=week.deliveries.clear(), verdict_tally=week.verdict_tally.clear())


def full_week() -> Week:
    """Every status, every kind of finding and every kind of hole."""
    of = plant()
    known = _troubled(cases(of))
    entries = (
        Entry(1, found.CHLORINE_DRIFT, date(2026, 10, 12), (found.CHLORINE_BEYOND,)),
        Entry(2, found.PH_FROZEN, None),
        Entry(3, found.EFFLUENT_GAP, date(2026, 11, 9)),
        Entry(4, found.TURBIDITY_DRIFT, date(2026, 9, 2)),
    )
    week = _week(of, known, _results(of), found.ALL, entries)
    usual = {name: _usual(known[name]) for name in ("AIT-123", "AIT-131", "LIT-131")}
    return replace(week, entries_beyond_cap=2, usual=usual)


def busy_week() -> Week:
    """More episodes of one limit than anybody wants to see drawn."""
    base = full_week()
    one = base.limits[1].excursions[0]
    many = tuple(
        replace(
            one,
            start=one.start + k * timedelta(hours=4),
            end=one.end + k * timedelta(hours=4),
            minutes=90 + k,
        )
        for k in range(14)
    )
    return _week(base.plant, base.cases, [replace(base.limits[1], excursions=many)])


def nasty_week() -> Week:
    """Names and texts that would break a careless page."""
    base = full_week()
    of = base.plant
    tag = of.tags["AIT-131"].model_copy(update={"tag": NASTY_TAG, "description": NASTY})
    limit = of.limits["CL2-RULE"].model_copy(
        update={"tag": NASTY_TAG, "label": NASTY, "source": NASTY, "limit_id": "<b>&"}
    )
    file = of.file.model_copy(update={"name": NASTY})
    tags, limits = {**of.tags, NASTY_TAG: tag}, {**of.limits, limit.limit_id: limit}
    nasty = replace(of, file=file, tags=tags, limits=limits)
    finding = replace(
        found.CHLORINE_DRIFT, tag=NASTY_TAG, evidence=NASTY, check_first=NASTY, tolerance=None, ci_low=None
    )
    episode = replace(base.excursions[-1], limit=limit, instrument_doubt=finding.finding_id)
    result = replace(base.limits[3], limit=limit, excursions=(episode,))
    known = {**base.cases, NASTY_TAG: replace(base.cases["AIT-131"], tag=tag)}
    week = _week(nasty, known, [result], (finding, *found.WELL_GAPS), (Entry(1, finding, None),))
    return replace(week, deliveries=_deliveries().with_columns(file=pl.lit(NASTY)))


def _week(
    of: Plant,
    known: dict[str, Case],
    results: list[LimitResult],
    findings: tuple[Finding, ...] = (),
    entries: tuple[Entry, ...] = (),
) -> Week:
    episodes = sorted((e for result in results for e in result.excursions), key=lambda e: e.start)
    return Week(
        plant=of,
        period=PERIOD,
        cases=known,
        findings=findings,
        asking=frozenset(one.finding_id for entry in entries for one in (entry.finding, *entry.also)),
        entries=entries,
        entries_beyond_cap=0,
        limits=tuple(results),
        excursions=tuple(episodes),
        coverage=coverage(known, PERIOD),
        deliveries=_deliveries(),
        verdict_tally=_tally(),
        config_hash="3f9a01c27be4",
    )


def _deliveries() -> pl.DataFrame:
    names = ("source", "file", "read", "stored", "known", "superseded", "refused")
    lines = [
        ("9a41c07be213", "sample_exports/trends/2026-11-09.csv", 12_480, 12_112, 356, 4, 8),
        ("b0177de94a55", "sample_exports/trends/2026-11-16.csv", 12_480, 12_480, 0, 0, 0),
    ]
    return pl.DataFrame([dict(zip(names, line, strict=True)) for line in lines])


def _tally() -> pl.DataFrame:
    counts = {"confirmed": [9, 4], "dismissed": [2, 0], "process": [3, 0]}
    return pl.DataFrame({"kind": ["drift", "frozen"], **counts})


def _usual(case: Case) -> pl.DataFrame:
    level = float(np.median(case.readings["value"]))
    times = [PERIOD.start + timedelta(hours=k) for k in range(168)]
    expected = [level * (1 + 0.04 * float(np.sin(2 * np.pi * k / 24))) for k in range(168)]
    return pl.DataFrame({"time": times, "expected": expected, "scale": [0.02 * level] * 168})


def _troubled(known: dict[str, Case]) -> dict[str, Case]:
    bump = (pl.col("time") - at(11, "02:30")).dt.total_minutes() / 105
    hill = 0.07 + 0.55 * (bump * np.pi).sin()
    bad = {"good": False, "usable": False}
    held = {"value": 7.64, "stuck": True, "usable": False}
    beyond = {"value": -20.0, "usable": False}
    edits = {
        "AIT-123": changed(known["AIT-123"], at(11, "02:30"), at(11, "04:15"), value=hill),
        "LIT-131": changed(known["LIT-131"], at(13, "17:00"), at(13, "19:30"), value=3.61),
        "AIT-131": changed(known["AIT-131"], at(14, "21:00"), at(15, "01:00"), value=0.18),
        "AIT-132": changed(known["AIT-132"], at(12, "14:00"), PERIOD.end, **held),
        "AIT-541": changed(known["AIT-541"], at(9, "08:00"), at(13, "12:00"), **bad),
        "TIT-131": changed(known["TIT-131"], at(10, "10:00"), at(10, "11:15"), **beyond),
        **{
            tag: without(known[tag], at(11, "02:10"), at(11, "07:10"))
            for tag in ("FIT-201", "LIT-201", "FIT-202")
        },
    }
    made = {name: replace(case, readings=edits.get(name, case.readings)) for name, case in known.items()}
    falling = daily(1.1, 0.01, -0.0085, 26, 31)
    chlorine = replace(made["AIT-131"], daily=falling, services=service(date(2026, 10, 12)))
    made["AIT-131"] = replace(chlorine, pairs=grabs(chlorine, -0.0085, 26, 32))
    rising = daily(0.06, 0.001, 0.0007, 33, 33)
    made["AIT-130"] = replace(made["AIT-130"], daily=rising, services=service(date(2026, 9, 2)))
    return made


def _within(of: Plant, limit_id: str, value: float, coverage_pct: float = 99.6) -> LimitResult:
    limit = of.limits[limit_id]
    kept = LimitResult(limit, PERIOD.start, PERIOD.end, "within", limit.unit, value)
    return replace(kept, worst=value, worst_at=at(12, "06:30"), coverage_pct=coverage_pct)


def _outside(*episodes: Excursion) -> LimitResult:
    first, minutes = episodes[0], [episode.minutes for episode in episodes]
    result = LimitResult(first.limit, PERIOD.start, PERIOD.end, "outside", first.unit, first.worst)
    told = replace(result, minutes_outside=sum(minutes), longest_minutes=max(minutes), coverage_pct=99.1)
    return replace(told, worst=first.worst, worst_at=first.worst_at, excursions=episodes)


def _results(of: Plant) -> list[LimitResult]:
    def episode(limit_id: str, start: str, end: str, minutes: float, worst: float, area: float) -> Excursion:
        limit = of.limits[limit_id]
        first, last = (at(int(text[:2]), text[3:]) for text in (start, end))
        return Excursion(limit, first, last, minutes, worst, first, area, limit.unit)

    filter_3 = episode("IFE-123", "11 02:45", "11 04:15", 90, 0.6199, 18.2)
    low = episode("CL2-RULE", "14 21:00", "15 01:00", 225, 0.18, 4.8)
    low = replace(low, minutes_unknown=15, open_end=True, instrument_doubt=found.CHLORINE_DRIFT.finding_id)
    flow = episode("EFF-FLOW", "12 00:00", "13 00:00", 1440, 1.4, 720)
    days = tuple((start, 0.5 if start != flow.start else 1.4) for start, _ in PERIOD.days)
    unknown = LimitResult(of.limits["EFF-PH"], PERIOD.start, PERIOD.end, "not assessable", "pH", 7.31)
    return [
        _within(of, "IFE-121", 0.071),
        _outside(filter_3),
        _within(of, "CFE-1.0", 0.092),
        _outside(low),
        _outside(replace(low, limit=of.limits["CL2-LOW"])),
        replace(_within(of, "PH-FIN", 8.4, 51.2), status="near"),
        _outside(episode("CW-LOW", "13 17:00", "13 19:30", 150, 3.61, 58.5)),
        replace(unknown, coverage_pct=40.5),
        replace(_outside(flow), days=days),
    ]
