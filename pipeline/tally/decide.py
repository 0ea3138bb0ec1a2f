"""Decide: what a limit came to over each of several stretches, and which of them speaks for it.

A month, a quarter or a half-year is assessed whole where it ended in the report's period, and so far where
it has not ended: the word then holds for the time until now, and the result says so.
"""

from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import timedelta

from pipeline.clock import Period, day_bounds
from pipeline.config.limits import Limit
from pipeline.margin import LOWEST_COVERAGE_PCT, margin, status
from pipeline.record import Record
from pipeline.result import Bounds, Excursion, LimitResult
from pipeline.tally.averages import Average, Day, day_means, mean_between, mean_of
from pipeline.wording import DAYS, MONTHS

_WORST_FIRST = ("outside", "not assessable", "near", "within")


def decisive(results: Iterable[LimitResult]) -> LimitResult:
    """Return the result that speaks for all: the worst word, then the latest that has ended; every excursion.

    A stretch of which too little has passed to say anything says nothing beside one that has ended. Of two
    of one word the one that has ended stands: it is what is reported, and no later page has it.
    """
    found = list(results)
    asked = _in_service(found)
    known = [one for one in asked if one.status != "not assessable" or not one.so_far]
    worst = min(
        known or asked,
        key=lambda r: (
            _WORST_FIRST.index(r.status),
            r.so_far,
            -r.period_start.timestamp(),
        ),
    )
    return replace(worst, excursions=_every_excursion(found))


def _in_service(found: list[LimitResult]) -> list[LimitResult]:
    """Return the results of stretches in which the tag was in service; all, where it never was."""
    return [one for one in found if not one.idle] or found


def _every_excursion(results: Iterable[LimitResult]) -> tuple[Excursion, ...]:
    """Return the excursions of all, each once; of one that lies in two stretches the exceedance."""
    every = sorted((e for one in results for e in one.excursions), key=lambda e: (e.start, bool(e.allowance)))
    seen: dict[str, Excursion] = {}
    for episode in every:
        seen.setdefault(episode.excursion_id, episode)
    return tuple(seen.values())


def over(spans: Iterable[Period], judge: Callable[[Period], LimitResult]) -> LimitResult:
    """Judge each of several stretches and return what speaks for all."""
    return decisive([judge(span) for span in spans])


def result(
    record: Record,
    limit: Limit,
    span: Period,
    average: Average,
    *,
    bounds: Bounds | None = None,
    unit: str = "",
    rule: str = "",
    note: str = "",
    is_final: bool = False,
) -> LimitResult:
    """Return what one stretch came to.

    Parameters
    ----------
    average : Average
        Value before rounding, and how much is known.
    bounds : Bounds, optional
        What the value is held against where that is not the limit's own number, in `unit`.
    rule, note : str
        As in `LimitResult`; a note begins with the stretch's name.
    is_final : bool
        Whether a value outside stands however little is known: a count can only grow, a mean cannot be
        told from an hour.
    """
    value = None if average.value is None else limit.rounded(average.value)
    enough = average.coverage_pct >= LOWEST_COVERAGE_PCT and not average.lacks
    is_outside = value is not None and margin(bounds or limit, value) < 0 and (enough or is_final)
    until = min(span.end, record.case.as_of)
    told = unit or record.case.tag.unit
    word = status(bounds or limit, value, is_outside, average.coverage_pct, told)
    return LimitResult(
        limit,
        span.start,
        until,
        "not assessable" if average.lacks else word,
        told,
        value,
        worst=value,
        coverage_pct=average.coverage_pct,
        raw=average.value if limit.rounding is not None else None,
        bounds=bounds,
        rule=rule,
        note=f"{named(span)}; {note}" if note else named(span),
        so_far=until < span.end,
        lacks=average.lacks,
        idle=limit.basis == "trend" and record.held.between(span.start, until).minutes == 0,
    )


def named(span: Period) -> str:
    """Return a stretch's name: ``Nov 2026``, ``Jul to Dec 2026``, ``7 days to Sun 15 Nov 2026``."""
    first = span.start.astimezone(span.zone)
    last = (span.end - timedelta(microseconds=1)).astimezone(span.zone)
    whole_months = first.day == 1 and (last + timedelta(days=1)).day == 1
    if not whole_months:
        days = (last.date() - first.date()).days + 1
        day = f"{DAYS[last.weekday()]} {last.day} {MONTHS[last.month - 1]} {last.year}"
        return f"{days} days to {day}" if days > 1 else day
    months = list(dict.fromkeys([MONTHS[first.month - 1], MONTHS[last.month - 1]]))
    year = f"{first.year} to " if first.year != last.year else ""
    if year:
        return f"{months[0]} {year}{months[-1]} {last.year}"
    return f"{' to '.join(months)} {last.year}"


def mean_over(record: Record, limit: Limit, spans: Iterable[Period]) -> LimitResult:
    """Return the mean of each stretch, the one that speaks for all."""

    def judge(span: Period) -> LimitResult:
        mean = mean_between(record, limit, span.start, span.end)
        return result(record, limit, span, mean, note=counted(mean, limit))

    return over(spans, judge)


def counted(mean: Average, limit: Limit) -> str:
    """Say what a mean rests on."""
    what = "sampled day" if limit.basis == "lab" else "day"
    return f"of {mean.days} {what}{'' if mean.days == 1 else 's'}"


def windows(period: Period, length: int) -> list[Period]:
    """Return the `length` days that end with each day of the period, oldest first."""
    found = []
    for start, end in period.days:
        last = start.astimezone(period.zone).date()
        first, _ = day_bounds(last - timedelta(days=length - 1), period.zone)
        found.append(Period("", first, end, period.zone))
    return found


def rolling(record: Record, limit: Limit, period: Period, length: int) -> LimitResult:
    """Return the mean of `length` days on end that is worst, of those that end in the period."""
    due = [span for span in windows(period, length) if span.end <= record.case.as_of] or windows(
        period, length
    )
    if limit.basis == "lab":
        return worst_of(mean_over(record, limit, [span]) for span in due)
    days = day_means(record, limit, due[0].start, due[-1].end)
    return worst_of(
        result(record, limit, span, mean, note=counted(mean, limit))
        for span in due
        for mean in [mean_of(inside(days, span), limit)]
    )


def inside(days: list[Day], span: Period) -> list[Day]:
    """Return the days of a stretch; a day of it of which nothing is recorded is among them."""
    return [day for day in days if span.start <= day.start < span.end]


def worst_of(results: Iterable[LimitResult]) -> LimitResult:
    """Return the result that speaks for days or windows: the worst word, then the least margin."""
    found = list(results)

    def distance(one: LimitResult) -> float:
        return margin(one.bounds or one.limit, one.value) if one.value is not None else 0.0

    worst = min(
        _in_service(found),
        key=lambda r: (_WORST_FIRST.index(r.status), distance(r), -r.period_start.timestamp()),
    )
    return replace(worst, excursions=_every_excursion(found))


def exact(limit: Limit) -> str:
    """Return what a reading may be, in words: ``at most 0.3 NTU``."""
    low, high, unit = limit.low, limit.high, f" {limit.unit}" if limit.unit else ""
    if low is None:
        return f"at most {high:.10g}{unit}"
    return f"at least {low:.10g}{unit}" if high is None else f"{low:.10g} to {high:.10g}{unit}"


def outside_of(limit: Limit) -> str:
    """Return where a reading is outside: ``above 0.3 NTU``, ``below 0.2 mg/L``, ``outside 6 to 9 pH``."""
    unit = f" {limit.unit}" if limit.unit else ""
    if limit.low is None:
        return f"above {limit.high:.10g}{unit}"
    return f"below {limit.low:.10g}{unit}" if limit.high is None else f"outside {exact(limit)}"
