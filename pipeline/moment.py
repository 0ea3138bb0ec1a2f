"""Moment: what begins with several instruments at one moment has one cause, which is none of theirs."""

from dataclasses import replace
from datetime import timedelta

from pipeline.finding import Finding

FEWEST_TOGETHER = 3
"""So many instruments do not fail at one moment. Common practice, no source."""

AT_ONCE = timedelta(minutes=15)
"""Pumps run down and tags are recorded at steps of their own. Common practice, no source."""

_TOGETHER = {
    "gap": "what sends them, or an export that is missing",
    "pegged": "power, the plant's standstill, or the card that takes their signals",
}
"""Kinds that one cause brings to many, and where to look for it."""

_BY_DAYS = {"pegged": "own recording"}
"""A ceiling is told by whole days: each begins at midnight, together with any other."""


def for_the_record(findings: list[Finding]) -> list[Finding]:
    """Let readings that stood at the ends of their spans together, and do no longer, ask for nobody.

    A plant that lost its power, or stood still, sends every flow to zero at once.
    """
    over = {
        one.finding_id: _told_together(one, group)
        for group in began_together(findings, "pegged")
        for one in group
        if not one.is_open
    }
    return [over.get(one.finding_id, one) for one in findings]


def in_one_line(findings: list[Finding]) -> list[Finding]:
    """Let one finding speak for those of its kind on other instruments that began at the same moment."""
    groups = [group for kind in _TOGETHER for group in began_together(findings, kind)]
    return one_for_each(findings, [(group, _led(group)) for group in groups])


def one_for_each(findings: list[Finding], groups: list[tuple[list[Finding], Finding]]) -> list[Finding]:
    """Let one finding stand for each group, in the place of its first; the others of it are left out."""
    silent = {one.finding_id for group, _ in groups for one in group[1:]}
    leads = {group[0].finding_id: led for group, led in groups}
    return [leads.get(one.finding_id, one) for one in findings if one.finding_id not in silent]


def began_together(findings: list[Finding], kind: str) -> list[list[Finding]]:
    """Return those of a kind that began within `AT_ONCE`, where they are of enough instruments."""
    since: list[list[Finding]] = []
    of_kind = [one for one in findings if one.kind == kind and one.reference != _BY_DAYS.get(kind)]
    for finding in sorted(of_kind, key=lambda one: one.start):
        if not since or finding.start - since[-1][0].start > AT_ONCE:
            since.append([])
        since[-1].append(finding)
    place = {one.finding_id: at for at, one in enumerate(findings)}
    return [
        sorted(group, key=lambda one: place[one.finding_id])
        for group in since
        if len({one.instrument for one in group}) >= FEWEST_TOGETHER
    ]


def _led(group: list[Finding]) -> Finding:
    first, *others = group
    tags = tuple(dict.fromkeys(one.tag for one in others if one.tag != first.tag))
    told = f"{len(tags)} more tags from the same moment: {_TOGETHER[first.kind]}."
    return replace(first, others=(*first.others, *tags), evidence=f"{first.evidence} So it is with {told}")


def _told_together(finding: Finding, group: list[Finding]) -> Finding:
    count = len({one.tag for one in group} - {finding.tag})
    told = f"{count} more tags began to do so at the same moment: {_TOGETHER[finding.kind]}."
    return replace(finding, severity="note", evidence=f"{finding.evidence} {told}")
