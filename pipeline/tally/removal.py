"""Removal: percent removed between two tags over a stretch, from their means."""

from pipeline.clock import Period
from pipeline.config.limits import Limit
from pipeline.record import Record
from pipeline.result import Bounds, LimitResult
from pipeline.tally.averages import Average, mean_between
from pipeline.tally.decide import result
from pipeline.wording import unit_word


def removal(record: Record, limit: Limit, span: Period) -> LimitResult:
    """Return the percent removed, ``100 (influent - effluent) / influent``, held against the limit's ``low``.

    Not assessable where either mean is unknown or the influent's is not above zero.
    """
    effluent = mean_between(record, limit, span.start, span.end)
    influent = mean_between(record.second, limit, span.start, span.end) if record.second else None
    into = influent.value if influent else None
    value = note = None
    if into is not None and into > 0 and effluent.value is not None:
        value = 100.0 * (into - effluent.value) / into
        note = f"from {into:.4g} to {effluent.value:.4g} {unit_word(record.case.tag.unit)}".rstrip()
    parts = [(limit.tag, effluent.lacks), (limit.second_tag, influent.lacks if influent else "")]
    lacks = "; ".join(f"{tag} {lack}" for tag, lack in parts if lack)
    covered = min(effluent.coverage_pct, influent.coverage_pct if influent else 0.0)
    least_pct = limit.low or 0.0
    return result(
        record,
        limit,
        span,
        Average(value, covered, effluent.days, lacks),
        bounds=Bounds(low=least_pct, width=100.0 - least_pct),
        unit="%",
        rule=f"removed between {limit.second_tag} and {limit.tag}",
        note=note or "",
    )
