"""Bench: where every analyser of a measure departs from its grabs alike, the lab is looked at first.

Instruments drift each its own way; a lot of reagent, a buffer or a meter on the bench is the same for all.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import timedelta

import numpy as np
import polars as pl

from pipeline.baseline.pairs import IN_PLACE, errors_of
from pipeline.baseline.scale import on_scale
from pipeline.case import Case
from pipeline.finding import Finding
from pipeline.moment import one_for_each

RECENT_DAYS = 28
FEWEST_GRABS = 2
FEWEST_INSTRUMENTS = 3
PLAIN_SHARE = 0.5
"""Of the tolerance: three instruments, and two thirds of all, are off by that at least, and all of them the
same way. Common practice, no source."""

CHECK_FIRST = "the bench: a check standard, and lot, date and storage of its reagents or buffers; then "


@dataclass(frozen=True)
class Alike:
    """Instruments of one measure that all read above their grabs, or all below."""

    measures: str
    tags: tuple[str, ...]
    sign: float


def in_one_line(findings: list[Finding], cases: Mapping[str, Case]) -> list[Finding]:
    """Let one finding speak for those of other instruments that depart from the bench as it does."""
    found = [(alike, [one for one in findings if _is_of(one, alike)]) for alike in all_alike(cases)]
    return one_for_each(findings, [(group, _led(group[0], alike)) for alike, group in found if group])


def all_alike(cases: Mapping[str, Case]) -> list[Alike]:
    """Return the measures of which the bench itself is in doubt."""
    shares: dict[str, dict[str, float]] = {}
    for tag, case in cases.items():
        share = None if case.tag.measures in IN_PLACE else _lately(case)
        if share is not None:
            shares.setdefault(case.tag.measures, {})[tag] = share
    return [
        Alike(measures, tuple(found), float(np.sign(next(iter(found.values())))))
        for measures, found in shares.items()
        if _are_alike(np.array(list(found.values())))
    ]


def _are_alike(share: np.ndarray) -> bool:
    plain = np.sum(np.abs(share) >= PLAIN_SHARE)
    return bool(
        abs(np.sign(share).sum()) == len(share) and plain >= max(FEWEST_INSTRUMENTS, 2 * len(share) / 3)
    )


def _lately(case: Case) -> float | None:
    """Return the median error against the newest grabs [tolerances]; None where there are too few."""
    since = (case.as_of - timedelta(days=RECENT_DAYS)).astimezone(case.zone).date()
    recent = case.pairs.filter(pl.col("day") >= since)
    error = errors_of(case.tag, recent)
    known = np.isfinite(error)
    if case.instrument is None or known.sum() < FEWEST_GRABS:
        return None
    level = float(np.median(recent["grab"].to_numpy()[known]))
    tolerance = case.tolerance_at(level)
    return float(np.median(error[known])) / on_scale(case.tag, tolerance, level) if tolerance else None


def _is_of(finding: Finding, alike: Alike) -> bool:
    rests_on_grabs = finding.reference == "lab grab" and finding.tag in alike.tags
    return rests_on_grabs and finding.is_open and (finding.estimate or 0.0) * alike.sign > 0


def _led(finding: Finding, alike: Alike) -> Finding:
    others = tuple(tag for tag in alike.tags if tag != finding.tag)
    way = "above" if alike.sign > 0 else "below"
    told = (
        f"So do {' and '.join(others)} of late, all {way}: the bench may be what is off, not the instruments."
    )
    return replace(
        finding,
        others=tuple(dict.fromkeys((*finding.others, *others))),
        evidence=f"{finding.evidence} {told}",
        check_first=CHECK_FIRST + finding.check_first,
    )
