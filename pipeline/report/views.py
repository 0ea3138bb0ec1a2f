"""Views: which picture belongs to an excursion and which to a finding."""

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta

import polars as pl

from pipeline.case import Case
from pipeline.clock import midnight
from pipeline.finding import Finding
from pipeline.report.curves import recorded
from pipeline.report.picture import Band, Curve, Mark, Picture, Point, Rule, Shade, broken
from pipeline.report.results import moment_word, result_of
from pipeline.report.words import anchor, exact, plural, scale_of, stretch
from pipeline.result import Excursion, LimitResult
from pipeline.units import conversion
from pipeline.week import Week
from pipeline.wording import unit_word

DAYS_BACK = 91
"""A slow error is drawn against so many days, more where it began earlier [d]."""
DAYS_BEFORE = 28
"""The level before an error began is the median of so many days [d]."""
LEAST_PAIRS = 3


def excursion_view(week: Week, excursion: Excursion) -> Picture | None:
    """Draw the readings around an episode, or the days of a day's statistic, with the limit across."""
    limit, zone = excursion.limit, week.period.zone
    case, result = week.cases.get(limit.tag), result_of(week, excursion)
    if case is None:
        return None
    if result is not None and result.days:
        start, end, curves = week.period.start, week.period.end, _days(result)
    else:
        start, end = _around(excursion.start, excursion.end, case)
        curves = _record(week, case, start, end, *conversion(case.tag.unit, excursion.unit))
    if not curves:
        return None
    edges = [edge for edge in (limit.low, limit.high) if edge is not None]
    nearest = min(edges, key=lambda edge: abs(edge - excursion.worst))
    return Picture(
        anchor(excursion.excursion_id),
        f"{case.tag.tag} {limit.name}",
        _excursion_message(week, excursion, nearest),
        unit_word(excursion.unit),
        zone,
        start,
        end,
        curves,
        rules=(Rule(nearest, f"limit {exact(nearest)}"),),
        shades=(Shade(excursion.start, excursion.end, "outside"),),
    )


def _days(result: LimitResult) -> tuple[Curve, ...]:
    """Return one dot a day, at its noon."""
    noons = [(start + timedelta(hours=12), value) for start, value in result.days]
    known = tuple(point for point in noons if point[1] is not None)
    return (Curve(result.limit.statistic.replace("_", " "), known, dots=True),) if known else ()


def _excursion_message(week: Week, excursion: Excursion, edge: float) -> str:
    scale = scale_of(week.cases[excursion.limit.tag].tag, excursion.unit)
    when = stretch(excursion.start, excursion.end, week.period.zone)
    worst, worst_at = scale.beside(excursion.worst, (edge,)), moment_word(week, excursion, excursion.worst_at)
    limit = f"{excursion.limit.name} outside its limit of {exact(edge)} {unit_word(excursion.unit)}"
    return f"{limit}, {when}; furthest out at {worst} on {worst_at}."


def finding_view(week: Week, finding: Finding) -> Picture | None:
    """Draw a finding: the difference from its reference, else the daily values or the raw record.

    Daily values where an error is named; the raw record where the recording itself is the trouble.
    """
    case = week.cases.get(finding.tag)
    if case is None:
        return None
    if finding.estimate is None:
        return _relation_view(case, finding) or _raw_view(week, case, finding)
    if "grab" in finding.reference.lower() and len(_pairs(case, finding)) >= LEAST_PAIRS:
        return _grab_view(case, finding)
    return _relation_view(case, finding) or _daily_view(week, case, finding) or _raw_view(week, case, finding)


def _around(start: datetime, end: datetime, case: Case) -> tuple[datetime, datetime]:
    """Widen a stretch by half its length, by three hours at least and a day at most."""
    room = min(max((end - start) / 2, timedelta(hours=3), 6 * case.step), timedelta(days=1))
    return start - room, min(end + room, case.as_of)


def _record(
    week: Week, case: Case, start: datetime, end: datetime, factor: float = 1.0, offset: float = 0.0
) -> tuple[Curve, ...]:
    """Return the record, what is recorded on change as it stood at every step, and its usual course."""
    found = recorded(case, case.regular, start, end, case.pace, factor, offset)
    usual = week.usual.get(case.tag.tag)
    if found and usual is not None:
        within = pl.col("time").is_between(start, end, closed="left")
        course = usual.filter(within).select("time", pl.col("expected").fill_nan(None) * factor + offset)
        found.append(Curve("usual course", tuple(broken(course.rows(), timedelta(hours=1))), "usual"))
    return tuple(found)


def _raw_view(week: Week, case: Case, finding: Finding) -> Picture | None:
    last = finding.end or case.as_of
    start, end = _around(max(finding.start, last - timedelta(days=14)), last, case)
    curves = _record(week, case, start, end)
    if not curves:
        return None
    shade = Shade(finding.start, last, finding.kind.replace("_", " "))
    return _picture(case, finding, f"{finding.tag}, as recorded", start, end, curves, shades=(shade,))


def _first_day(case: Case, finding: Finding) -> date:
    onset = finding.start.astimezone(case.zone).date() - timedelta(days=14)
    return min(onset, case.as_of.astimezone(case.zone).date() - timedelta(days=DAYS_BACK))


def _pairs(case: Case, finding: Finding) -> list[Point]:
    rows = case.pairs.filter(pl.col("day") >= _first_day(case, finding))
    rows = rows.select("time", (pl.col("reading") - pl.col("grab")).alias("error")).drop_nulls()
    return [(instant, error) for instant, error in rows.iter_rows()]


def _grab_view(case: Case, finding: Finding) -> Picture:
    pairs = _pairs(case, finding)
    off = finding.tolerance
    bands = (Band(-off, off, "tolerance"),) if off is not None else ()
    title = f"{finding.tag} less lab grab"
    curves = (Curve(plural(len(pairs), "grab"), tuple(pairs), dots=True),)
    start = midnight(_first_day(case, finding), case.zone)
    even = Rule(0.0, "agrees with the lab", firm=False)
    marks = _marks(case, finding, start)
    return _picture(case, finding, title, start, case.as_of, curves, (even,), bands, marks=marks)


def _relation_view(case: Case, finding: Finding) -> Picture | None:
    """Draw what the tag shows less what its twin, or physics, lets expect, day by day."""
    relation = next((one for one in case.relations if one.reference == finding.reference), None)
    if relation is None:
        return None
    first = _first_day(case, finding)
    # Differences of flows and turbidities, and shares, are logarithms: drawn in per cent.
    as_share = case.tag.is_log_scaled or relation.is_share
    size = 100.0 if as_share else 1.0
    rows = relation.days.filter(pl.col("day") >= first).drop_nulls("difference")
    days = [(day, size * value) for day, value in rows.select("day", "difference").iter_rows()]
    if not days:
        return None
    allowed = rows["allowed"].drop_nulls().median()
    off = size * allowed if isinstance(allowed, float) else None
    bands = (Band(-off, off, "tolerances of all who take part"),) if off is not None else ()
    title = f"{finding.tag} less what {relation.reference} lets expect"
    curves = (Curve("daily difference", tuple(_at_noon(case, days)), dots=True),)
    start = midnight(first, case.zone)
    even = Rule(0.0, "agrees", firm=False)
    marks = _marks(case, finding, start)
    drawn = _picture(case, finding, title, start, case.as_of, curves, (even,), bands, marks=marks)
    return replace(drawn, unit="%") if as_share else drawn


def _daily_view(week: Week, case: Case, finding: Finding) -> Picture | None:
    first = _first_day(case, finding)
    points = _noons(case, first)
    if not points:
        return None
    curves = [Curve("daily value", tuple(broken(points, timedelta(days=1))))]
    twin = week.cases.get(case.tag.twin)
    if twin is not None and "twin" in finding.reference.lower() and (beside := _noons(twin, first)):
        curves.append(Curve(twin.tag.tag, tuple(broken(beside, timedelta(days=1))), "other"))
    start = midnight(first, case.zone)
    bands = _before(points, finding)
    title = f"{finding.tag}, daily values"
    marks = _marks(case, finding, start)
    return _picture(case, finding, title, start, case.as_of, tuple(curves), (), bands, marks=marks)


def _noons(case: Case, first: date) -> list[Point]:
    rows = case.daily.filter(pl.col("day") >= first).select("day", "value").drop_nulls()
    return _at_noon(case, rows.rows())


def _at_noon(case: Case, days: list[tuple[date, float]]) -> list[Point]:
    return [(datetime.combine(day, time(12), case.zone).astimezone(UTC), value) for day, value in days]


def _before(points: list[Point], finding: Finding) -> tuple[Band, ...]:
    """Return the tolerance around the level before the error began."""
    since = finding.start - timedelta(days=DAYS_BEFORE)
    levels = sorted(value for at, value in points if value is not None and since <= at < finding.start)
    if finding.tolerance is None or not levels:
        return ()
    centre, off = levels[len(levels) // 2], finding.tolerance
    return (Band(centre - off, centre + off, "tolerance around the level before"),)


def _marks(case: Case, finding: Finding, start: datetime) -> tuple[Mark, ...]:
    times = [instant for instant in case.services["time"].to_list() if start <= instant <= case.as_of]
    services = [Mark(instant, "service") for instant in times]
    if finding.start < start:
        return tuple(services)
    return (*services, Mark(finding.start, "began about here", at_foot=True))


def _picture(
    case: Case,
    finding: Finding,
    title: str,
    start: datetime,
    end: datetime,
    curves: tuple[Curve, ...],
    rules: tuple[Rule, ...] = (),
    bands: tuple[Band, ...] = (),
    shades: tuple[Shade, ...] = (),
    marks: tuple[Mark, ...] = (),
) -> Picture:
    message = f"{title}, {stretch(start, end, case.zone)}. {finding.evidence}"
    unit = unit_word(case.tag.unit)
    name = anchor(finding.finding_id)
    return Picture(name, title, message, unit, case.zone, start, end, curves, rules, bands, shades, marks)
