"""Join: every case of a plant told what its neighbours say of it."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from itertools import combinations

from pipeline.case import Case, Relation
from pipeline.config.physics import Physics
from pipeline.config.plant import State
from pipeline.facts import CONTRADICTIONS, COPIES, STANDSTILLS
from pipeline.neighbours.base_pressure import base_pressures
from pipeline.neighbours.company import company
from pipeline.neighbours.copies import copies
from pipeline.neighbours.dispute import days_beyond
from pipeline.neighbours.feed_pace import feed_paces
from pipeline.neighbours.running import contradictions
from pipeline.neighbours.standstill import standstills
from pipeline.neighbours.twins import twins
from pipeline.neighbours.water_balance import water_balances
from pipeline.table import empty


def with_neighbours(
    cases: Mapping[str, Case], physics: Physics | None = None, states: Mapping[str, State] | None = None
) -> dict[str, Case]:
    """Return the cases of a plant, each with what the others tell of it.

    Parameters
    ----------
    cases : mapping of str to Case
        All of the plant, as known at one instant, in the config's order.
    physics : Physics, optional
        Which of them nature ties together.
    states : mapping of str to State, optional
        Operating states that ``running`` may name.
    """
    law = physics or Physics()
    still, same, beside = standstills(cases), copies(cases), company(cases)
    denied = contradictions(cases, law.running, states or {})
    related: dict[str, list[Relation]] = {}
    told = [
        *twins(cases),
        *base_pressures(cases, law.base_pressure),
        *water_balances(cases, law.balance),
        *feed_paces(cases, law.feed_pace),
    ]
    alone = _cornered(told)
    for name, relation in told:
        days = {one.tag.tag: alone[one.tag.tag] for one in relation.parties if one.tag.tag in alone}
        related.setdefault(name, []).append(replace(relation, cornered=days))
    return {
        name: replace(
            case,
            standstills=still.get(name, empty(STANDSTILLS)),
            copies=same.get(name, empty(COPIES)),
            contradictions=denied.get(name, empty(CONTRADICTIONS)),
            company=beside.get(name, ()),
            relations=tuple(related.get(name, ())),
        )
        for name, case in cases.items()
    }


def _cornered(told: list[tuple[str, Relation]]) -> dict[str, frozenset[date]]:
    """Return, tag by tag, the days on which two relations were broken that have that tag alone in common."""
    beyond = [
        (name, {one.tag.tag for one in relation.parties}, days_beyond(relation)) for name, relation in told
    ]
    found: dict[str, frozenset[date]] = {}
    for (name, ours, days), (other, theirs, more) in combinations(beyond, 2):
        if name == other and ours & theirs == {name} and days & more:
            found[name] = found.get(name, frozenset()) | (days & more)
    return found
