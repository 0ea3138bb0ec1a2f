"""Twins: two instruments in the same water, each the other's reference; their difference accuses neither."""

from collections.abc import Mapping

import polars as pl

from pipeline.baseline.twins import beside_twin
from pipeline.case import Case, Relation
from pipeline.facts import RELATION_DAYS
from pipeline.neighbours.daily import parties, tolerance
from pipeline.table import conform


def twins(cases: Mapping[str, Case]) -> list[tuple[str, Relation]]:
    """Return each tag's relation to its twin, whichever of the two names the other in the config."""
    found: list[tuple[str, Relation]] = []
    done: set[frozenset[str]] = set()
    for name, case in cases.items():
        twin = cases.get(case.tag.twin)
        pair = frozenset((name, case.tag.twin))
        if twin is not None and len(pair) == 2 and pair not in done:
            found += _both(cases, case, twin)
            done.add(pair)
    return found


def _both(cases: Mapping[str, Case], case: Case, twin: Case) -> list[tuple[str, Relation]]:
    own, other = tolerance(case), tolerance(twin)
    days = case.twin_days if case.twin_days.height else beside_twin(case, twin)
    if own is None or other is None or days.height == 0:
        return []
    allowed = own.join(other, on="day").select(
        "day", (pl.col("allowance") + pl.col("allowance_right")).alias("allowed")
    )
    table = days.join(allowed, on="day", how="inner", maintain_order="left")
    both = parties([one for one in cases.values() if one.tag.tag in (case.tag.tag, twin.tag.tag)])
    law = "both stand in the same water"
    return [
        (one, Relation(f"twin {rival}", _table(table, sign), both, law))
        for one, rival, sign in ((case.tag.tag, twin.tag.tag, 1.0), (twin.tag.tag, case.tag.tag, -1.0))
    ]


def _table(days: pl.DataFrame, sign: float) -> pl.DataFrame:
    return conform(days.with_columns(pl.col("difference") * sign), RELATION_DAYS)
