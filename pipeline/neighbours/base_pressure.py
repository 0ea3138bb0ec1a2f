"""Base pressure: a tank's water stands 2.31 ft above a gauge for every psi it shows."""

from collections.abc import Mapping

import polars as pl

from pipeline.case import Case, Relation
from pipeline.clock import to_local
from pipeline.config.physics import BasePressure
from pipeline.facts import RELATION_DAYS
from pipeline.neighbours.daily import parties, shown, tolerance
from pipeline.table import conform
from pipeline.units import conversion

PA_PER_PSI = 6894.757293168
WATER_KG_M3, GRAVITY_M_S2, M_PER_FT = 1000.0, 9.80665, 0.3048
FT_PER_PSI = PA_PER_PSI / (WATER_KG_M3 * GRAVITY_M_S2 * M_PER_FT)
"""Height of water that weighs one psi [ft/psi]: h = p / (rho g)."""

FEWEST_READINGS = 4


def head_ft(pressure_psi: float) -> float:
    """Return the height of the water above a gauge [ft].

    Parameters
    ----------
    pressure_psi : float [psi]

    Returns
    -------
    float [ft]
        h = p / (rho g), with 1000 kg/m3 and standard gravity: 2.31 ft a psi.
    """
    return pressure_psi * FT_PER_PSI


def base_pressures(cases: Mapping[str, Case], told: tuple[BasePressure, ...]) -> list[tuple[str, Relation]]:
    """Return the relations of a level to the pressure beneath it, and back.

    How far the gauge stands below the tank's zero is learned: only a change of the difference counts.
    """
    found: list[tuple[str, Relation]] = []
    for one in told:
        level, pressure = cases[one.level], cases[one.pressure]
        days = _days(level, pressure, one)
        if days is None:
            continue
        both = parties([level, pressure])
        law = "water weighs 1 psi every 2.31 ft"
        to_level, to_pressure = (
            conversion("ft", level.tag.unit)[0],
            -conversion("psi", pressure.tag.unit)[0] / FT_PER_PSI,
        )
        found += [
            (one.level, Relation(f"base pressure {one.pressure}", _scaled(days, to_level), both, law)),
            (one.pressure, Relation(f"tank level {one.level}", _scaled(days, to_pressure), both, law)),
        ]
    return found


def _days(level: Case, pressure: Case, one: BasePressure) -> pl.DataFrame | None:
    """``day, difference, allowed`` [ft] of the hours in which the water hardly moves."""
    allowed_ft, allowed_psi = tolerance(level), tolerance(pressure)
    if allowed_ft is None or allowed_psi is None:
        return None
    both = shown(level, "ft").join(shown(pressure, "psi").drop("day"), on="time", maintain_order="left")
    hour = to_local(pl.col("time"), level.zone).dt.hour()
    calm = both.filter((hour >= one.hours[0]) & (hour < one.hours[1]))
    off = pl.col("value") - pl.col("value_right") * FT_PER_PSI
    days = calm.group_by("day").agg(off.median().alias("difference"), pl.len().alias("n"))
    ft, psi = conversion(level.tag.unit, "ft")[0], conversion(pressure.tag.unit, "psi")[0]
    allowed = pl.col("allowance") * ft + pl.col("allowance_right") * psi * FT_PER_PSI
    bars = allowed_ft.join(allowed_psi, on="day").select("day", allowed.alias("allowed"))
    enough = days.filter(pl.col("n") >= FEWEST_READINGS)
    return enough.join(bars, on="day").sort("day")


def _scaled(days: pl.DataFrame, factor: float) -> pl.DataFrame:
    scaled = (pl.col("difference") * factor, pl.col("allowed") * abs(factor))
    return conform(days.with_columns(scaled), RELATION_DAYS)
