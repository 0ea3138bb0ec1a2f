"""Water balance: what comes in goes out or stays in the tank; nothing else can become of it."""

from collections.abc import Mapping
from datetime import timedelta

import polars as pl

from pipeline.case import Case, Relation
from pipeline.config.physics import Storage, WaterBalance
from pipeline.facts import RELATION_DAYS
from pipeline.neighbours.daily import parties, recorded
from pipeline.table import conform
from pipeline.units import conversion

SMALLEST_SHARE = 0.9
"""Share of a day's readings that every meter must have; what is missing would look like a loss."""


def water_balances(cases: Mapping[str, Case], told: tuple[WaterBalance, ...]) -> list[tuple[str, Relation]]:
    """Return the relation of every meter of a balance to all the others.

    Day by day ln(in / (out + stored)): the share by which the inflow meters show more than leaves or
    stays. A loss that is always there (wash water that no meter sees) is learned as usual.
    """
    found: list[tuple[str, Relation]] = []
    for one in told:
        days = _days(cases, one)
        if days is None:
            continue
        names = [*one.inflows, *one.outflows, *(store.level for store in one.storage)]
        all_of_it = parties([case for name, case in cases.items() if name in names])
        law = "what comes in goes out or is stored"
        # A tank comes back to where it was: an error of its level gains or loses no water for long.
        levels = frozenset(store.level for store in one.storage)
        for name in names:
            side = one.inflows if name in one.inflows else one.outflows
            sign = 1.0 if name in one.inflows else -1.0
            table = conform(days.with_columns(pl.col("difference") * sign), RELATION_DAYS)
            # Of a level, or of one meter among several, no error can be named: only its share in the whole.
            is_share = not cases[name].tag.is_log_scaled or len(side) > 1
            relation = Relation(
                f"water balance {one.name}", table, all_of_it, law, is_share, bystanders=levels
            )
            found.append((name, relation))
    return found


def _days(cases: Mapping[str, Case], one: WaterBalance) -> pl.DataFrame | None:
    """``day, difference, allowed`` as shares of the inflow."""
    sides = [_side(cases, names) for names in (one.inflows, one.outflows)]
    if sides[0] is None or sides[1] is None:
        return None
    days = sides[0].join(sides[1], on="day", suffix="_out")
    days = days.with_columns(pl.lit(0.0).alias("stored_gal"))
    for store in one.storage:
        days = (
            days.join(_stored(cases[store.level], store), on="day")
            .with_columns(pl.col("stored_gal") + pl.col("gained_gal"))
            .drop("gained_gal")
        )
    left = pl.col("gal_out") + pl.col("stored_gal")
    sound = days.filter((pl.col("gal") > 0) & (pl.col("gal_out") > 0) & (left > 0)).sort("day")
    allowed = pl.col("off_gal") / pl.col("gal") + pl.col("off_gal_out") / left
    return sound.select("day", (pl.col("gal") / left).log().alias("difference"), allowed.alias("allowed"))


def _side(cases: Mapping[str, Case], names: tuple[str, ...]) -> pl.DataFrame | None:
    """``day, gal, off_gal``: what passed the meters of one side, and by how much they may be off."""
    total: pl.DataFrame | None = None
    for name in names:
        own = _metered(cases[name])
        if own is None:
            return None
        if total is None:
            total = own
            continue
        both = total.join(own, on="day")
        total = both.select("day", *(pl.col(key) + pl.col(f"{key}_right") for key in ("gal", "off_gal")))
    return total


def _metered(case: Case) -> pl.DataFrame | None:
    """Return the same of one meter; None where its tolerance is not known.

    It may be off by what it may at each reading, and by no more than it shows where it rests: what passes
    then is little, whatever share of it the tolerance is.
    """
    device = case.instrument
    if device is None or (device.tolerance is None and device.tolerance_pct is None):
        return None
    factor, _ = conversion(case.tag.unit, "gpm")
    share, least = (device.tolerance_pct or 0.0) / 100.0, (device.tolerance or 0.0) * factor
    off = pl.max_horizontal(share * pl.col("value"), pl.min_horizontal(least, pl.col("value").abs()))
    flow = recorded(case, "gpm").with_columns(off.alias("off"))
    fewest = SMALLEST_SHARE * timedelta(days=1) / case.pace
    of_day = [
        (pl.col(name).mean() * 1440.0).alias(as_) for name, as_ in (("value", "gal"), ("off", "off_gal"))
    ]
    return flow.group_by("day").agg(*of_day, pl.len().alias("n")).filter(pl.col("n") >= fewest).drop("n")


def _stored(case: Case, store: Storage) -> pl.DataFrame:
    """``day, gained_gal``: from the last reading of the day before to the last of the day."""
    last = recorded(case, "ft").group_by("day", maintain_order=True).agg(pl.col("value").last())
    gained = (pl.col("value") - pl.col("value").shift(1)) * store.gallons_per_foot
    whole = (pl.col("day") - pl.col("day").shift(1)).dt.total_days() == 1
    return last.select("day", pl.when(whole).then(gained).alias("gained_gal")).drop_nulls()
