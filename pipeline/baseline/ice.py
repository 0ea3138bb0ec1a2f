"""Ice: water that freezes stands at its freezing point; a thermometer that shows it is not stuck."""

from datetime import timedelta

import polars as pl

from pipeline.config.tags import Tag

FREEZES = {"degC": (0.0, 1.0), "degF": (32.0, 1.8), "K": (273.15, 1.0)}
"""Freezing point of fresh water on each scale, and how many of its degrees are one degC: by definition, to a
few thousandths."""

STANDS = 0.5
"""So far from it water under ice may be read [degC]. Common practice, no source."""

COMES_FROM = 2.0
"""What fell from above this within a day did not freeze [degC]. Common practice, no source."""

_DAY = timedelta(days=1)


def at_ice(tag: Tag, samples: pl.DataFrame) -> pl.Series | None:
    """Mark the readings of freezing water; None where there are none.

    Parameters
    ----------
    tag : Tag
    samples : DataFrame of ``time, value, good``
        Ascending.
    """
    if tag.measures != "temperature" or tag.unit not in FREEZES or samples.height == 0:
        return None
    freezes, degree = FREEZES[tag.unit]
    above = (pl.col("value") - freezes) / degree
    near = samples.select(above.abs() <= STANDS).to_series().fill_null(False)
    if not near.any():
        return None
    day_before = samples.select(pl.when("good").then(above).rolling_median_by("time", _DAY)).to_series()
    return near & (day_before <= COMES_FROM).fill_null(False)
