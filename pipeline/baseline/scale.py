"""Scale: errors of flows and turbidities are shares of the reading, all others are amounts."""

import math

import polars as pl

from pipeline.config.tags import Tag

_FLOOR = 1e-6
"""A flow or turbidity of nothing has no logarithm; such readings are left out."""


def working(tag: Tag, value: pl.Expr) -> pl.Expr:
    """`value` [unit of the tag] on the scale on which its errors add up; null where it has none."""
    return pl.when(value > _FLOOR).then(value.log()) if tag.is_log_scaled else value


def amount(tag: Tag, error: float, level: float) -> float:
    """Error on the working scale as an amount [unit of the tag] at the reading `level`."""
    return level - level * math.exp(-error) if tag.is_log_scaled else error


def on_scale(tag: Tag, tolerance: float, level: float) -> float:
    """Tolerance [unit of the tag] at the reading `level`, on the working scale."""
    return tolerance / abs(level) if tag.is_log_scaled and level else tolerance
