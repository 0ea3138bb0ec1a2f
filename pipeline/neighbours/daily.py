"""Daily: what of a tag's day may be held against its neighbours, and how far off it may be."""

from collections.abc import Sequence
from dataclasses import replace

import polars as pl

from pipeline.baseline.states import within
from pipeline.baseline.stuck import counted
from pipeline.case import Case
from pipeline.clock import to_local
from pipeline.units import conversion


def day_of(case: Case) -> pl.Expr:
    """Local date of the column ``time``."""
    return to_local(pl.col("time"), case.zone).dt.date()


def shown(case: Case, unit: str) -> pl.DataFrame:
    """Return ``time, day, value`` [`unit`] of the usable readings, as each day's end knew them."""
    factor, offset = conversion(case.tag.unit, unit)
    known = case.regular.filter(counted(case.regular, case.stuck, day_of(case)))
    return known.select("time", day_of(case).alias("day"), pl.col("value") * factor + offset)


def recorded(case: Case, unit: str) -> pl.DataFrame:
    """Return the same of all good readings, in whatever state the plant was: a pump at rest moves nothing."""
    at_work = within(case.regular["time"], case.at_work)
    anywhere = case.regular.filter(~at_work).with_columns(
        usable=pl.col("good") & ~pl.col("stuck"), in_state=pl.lit(True)
    )
    return shown(replace(case, readings=anywhere, stepped=None), unit)


def tolerance(case: Case) -> pl.DataFrame | None:
    """Return ``day, allowance``: the admissible error on the working scale; None where none is named."""
    device = case.instrument
    if device is None or (device.tolerance is None and device.tolerance_pct is None):
        return None
    level = pl.col("level").forward_fill().abs()
    share = (device.tolerance_pct or 0.0) / 100.0
    allowed = pl.max_horizontal(pl.lit(device.tolerance or 0.0), share * level)
    scaled = allowed / pl.when(level > 0).then(level) if case.tag.is_log_scaled else allowed
    return case.daily.select("day", scaled.alias("allowance")).drop_nulls()


def parties(cases: Sequence[Case]) -> tuple[Case, ...]:
    """Return cases without what they in turn are told of others."""
    return tuple(replace(case, twin=None, relations=()) for case in cases)
