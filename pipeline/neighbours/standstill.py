"""Standstill: tags that repeat themselves from the same instant, because their messages stopped."""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import polars as pl

from pipeline.case import Case
from pipeline.epoch import MICROSECOND, instant_of
from pipeline.facts import STANDSTILLS
from pipeline.table import conform

FEWEST_TAGS = 3
"""So many from the same instant are one trouble, wherever in the plant they stand."""

FEWEST_OF_AREA = 2
AREA_SHARE = 0.5
"""Fewer will do when they are half of all that one area measures. Twins are one: they measure the same
water, and where that rests, both do."""


@dataclass
class _Spell:
    """One standstill under way: rows of the pauses that belong to it [us]."""

    start: int
    crossed: int
    lead: str
    rows: list[int] = field(default_factory=list)


def standstills(cases: Mapping[str, Case]) -> dict[str, pl.DataFrame]:
    """Return the standstills of every tag that was in one, each a table of STANDSTILLS.

    One pause of a third of the allowed length says nothing; that several begin within one step of each
    other is no chance. Tags at nothing (a pump that rests, a dry channel) do not count: a plant that
    stops stops them all.
    """
    pauses = _pauses(cases)
    if pauses.height == 0:
        return {}
    spells = _spells(cases, pauses)
    rows = [row for spell in spells for row in _rows(cases, pauses, spell)]
    table = pl.DataFrame(rows, schema={"tag": pl.String(), **STANDSTILLS}, orient="row")
    return {
        str(name): conform(part.sort("run"), STANDSTILLS)
        for (name,), part in table.group_by("tag", maintain_order=True)
    }


def _pauses(cases: Mapping[str, Case]) -> pl.DataFrame:
    """All pauses that have company, in the order in which they were long enough to be told."""
    parts = [_of_one(number, case) for number, case in enumerate(cases.values()) if case.pauses.height]
    if len(parts) < FEWEST_OF_AREA:
        return pl.DataFrame({"start": []})
    every = pl.concat(parts).sort("start")
    start, step = every["start"].to_numpy(), every["step"].to_numpy()
    near = np.searchsorted(start, start + step, "right") - np.searchsorted(start, start - step, "left")
    return every.filter(pl.Series(near >= FEWEST_OF_AREA)).sort("paused", "number")


def _of_one(number: int, case: Case) -> pl.DataFrame:
    rests = pl.col("value").is_in([0.0, case.tag.low or 0.0])
    return case.pauses.filter(~rests).select(
        pl.lit(number).alias("number"),
        *(pl.col(name).dt.epoch("us") for name in ("start", "end", "paused")),
        pl.lit(case.step // MICROSECOND, pl.Int64).alias("step"),
    )


def _spells(cases: Mapping[str, Case], pauses: pl.DataFrame) -> list[_Spell]:
    """Walk through the pauses as they became known; a pause belongs to one spell at most."""
    number, start, end, told, step = (
        pauses[name].to_numpy() for name in ("number", "start", "end", "paused", "step")
    )
    spells: list[_Spell] = []
    loose: list[int] = []
    for row in range(pauses.height):
        # Only runs that last when this one is told can be under way together with it.
        loose = [other for other in loose if end[other] > told[row]]
        spells_near = [
            spell for spell in reversed(spells[-20:]) if abs(spell.start - start[row]) <= step[row]
        ]
        if spells_near and told[row] < max(end[other] for other in spells_near[0].rows):
            spells_near[0].rows.append(row)
            continue
        loose.append(row)
        together = [other for other in loose if abs(start[other] - start[row]) <= step[row]]
        if _is_enough(cases, {int(number[other]) for other in together}):
            first = min(together, key=lambda other: number[other])
            lead = list(cases)[int(number[first])]
            spells.append(_Spell(int(start[together].min()), int(told[row]), lead, together))
            loose = [other for other in loose if other not in together]
    return spells


def _is_enough(cases: Mapping[str, Case], numbers: set[int]) -> bool:
    if len(numbers) >= FEWEST_TAGS:
        return True
    every = list(cases.values())
    areas = {every[number].tag.area for number in numbers}
    twins = {every[number].tag.twin for number in numbers}
    apart = sum(every[number].tag.tag not in twins for number in numbers)
    if apart < FEWEST_OF_AREA or len(areas) > 1:
        return False
    measured = sum(case.tag.area in areas and not case.tag.is_state for case in every)
    return len(numbers) >= AREA_SHARE * measured


def _rows(cases: Mapping[str, Case], pauses: pl.DataFrame, spell: _Spell) -> list[tuple[object, ...]]:
    """One row of STANDSTILLS, its tag first, for each run of a spell."""
    own = pauses[sorted(spell.rows, key=lambda row: (pauses["number"][row], row))]
    names = [list(cases)[number] for number in own["number"]]
    end = max(own["end"].to_list())
    newest = max(cases[name].readings["time"][-1] for name in names)
    start, over, told = instant_of(spell.start), instant_of(end), instant_of(spell.crossed)
    tags = list(dict.fromkeys(names))
    return [
        (name, instant_of(run), start, over, told, tags, spell.lead, over > newest)
        for name, run in zip(names, own["start"], strict=True)
    ]
