"""Disinfection: the log inactivation of every hour, each day's at its peak hourly flow, a year by months."""

from datetime import datetime, timedelta, tzinfo

from markupsafe import Markup

from pipeline.report.charts import chart
from pipeline.report.picture import Curve, Picture, Rule, broken
from pipeline.report.render import fill
from pipeline.report.words import NOTHING, clock_word, day_word, exact, number
from pipeline.result import Inactivation, PeakHour
from pipeline.units import conversion
from pipeline.week import Week
from pipeline.wording import MONTHS, unit_word

TITLE = "Disinfection"
ORDER = 35


def render(week: Week) -> Markup:
    """Return the chart of the hours, the days as a monthly form asks for them, and twelve months."""
    course, zone = week.inactivation, week.period.zone
    if course is None:
        return fill("disinfection.html", days=None)
    segments = week.plant.file.disinfection_segment
    flow = _flow_unit(week)
    return fill(
        "disinfection.html",
        days=[_day(zone, start, peak, flow) for start, peak in course.days],
        flow_unit=unit_word(flow),
        chart=chart(_picture(week, course)),
        segments=[f"{s.name} ({exact(s.baffling_factor)}, {s.source}; {s.method})" for s in segments],
        months=[(_month(zone, start), number(mean, 2)) for start, mean in course.months],
        known=any(mean is not None for _, mean in course.months),
        benchmark=_benchmark(zone, course),
    )


def _flow_unit(week: Week) -> str:
    """Return the unit in which the plant keeps the flow of the last segment."""
    return week.plant.tags[week.plant.file.disinfection_segment[-1].flow].unit


def _day(zone: tzinfo, start: datetime, peak: PeakHour | None, flow_unit: str) -> dict[str, str]:
    day = day_word(start.astimezone(zone).date())
    if peak is None:
        return {"day": day, "hour": "", "giardia": NOTHING}
    return {
        "day": day,
        "hour": clock_word(peak.start, zone),
        "flow": _flow(peak.flow_gpm * conversion("gpm", flow_unit)[0]),
        "residual": number(peak.residual_mg_l, 2),
        "lowest": number(peak.lowest_mg_l, 2),
        "ph": number(peak.ph, 2),
        "temperature": number(peak.temperature_degc, 1),
        "contact": number(peak.contact_minutes, 0),
        "ct": number(peak.ct, 1),
        "giardia": number(peak.giardia, 2),
        "virus": number(peak.virus, 2),
    }


def _flow(value: float) -> str:
    """Return a flow to three digits, where it has no more before the decimal mark."""
    return number(value, 0 if value >= 100 else 1 if value >= 10 else 2 if value >= 1 else 3)


def _month(zone: tzinfo, start: datetime) -> str:
    local = start.astimezone(zone)
    return f"{MONTHS[local.month - 1]} {local.year}"


def _benchmark(zone: tzinfo, course: Inactivation) -> str:
    """Return the lowest of twelve monthly means in words; empty where not all twelve are known."""
    if course.benchmark is None:
        return ""
    start, mean = course.benchmark
    return f"{number(mean, 2)} log, {_month(zone, start)}"


def _picture(week: Week, course: Inactivation) -> Picture | None:
    known = [point for point in course.hours if point[1] is not None]
    if not known:
        return None
    asked = [
        limit.low
        for limit in week.plant.limits.values()
        if limit.statistic == "giardia_inactivation" and limit.low is not None
    ]
    lowest = min(value for _, value in known if value is not None)
    return Picture(
        "disinfection",
        "Log inactivation of Giardia, hour by hour",
        f"Log inactivation of Giardia, hour by hour; the lowest hour came to {number(lowest, 2)} log.",
        "log",
        week.period.zone,
        week.period.start,
        week.period.end,
        (Curve("each hour, at its worst", tuple(broken(known, timedelta(hours=1)))),),
        rules=tuple(Rule(low, f"at least {exact(low)}") for low in asked),
    )
