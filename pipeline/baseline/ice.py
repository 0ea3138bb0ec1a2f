"""Ice: water that freezes stands at its freezing point; a thermometer that shows it is not stuck."""

from datetime import timedelta

import polars as pl

from pipeline.config.tags import Tag
from pipeline.units import conversion

FREEZES = 0.0
"""Freezing point of fresh water [degC]: by definition of the scale, to a few thousandths."""

STANDS = 0.5
"""So far from it water under ice may be read [degC]. Common practice, no source."""

COMES_FROM = 2.0
"""What fell from above this within a day did not freeze [degC]. Common practice, no source."""

SCALES = ("degC", "degF", "K")

_DAY = timedelta(days=1)


def at_ice(tag: Tag, samples: pl.DataFrame) -> pl.Series | None:
    """Mark the readings of freezing water; None where there are none.

    Parameters
    ----------
    tag : Tag
    samples : DataFrame of ``time, value, good``
        Ascending.
    """
    if tag.measures != "temperature" or tag.unit not in SCALES or samples.height == 0:
        return None
    factor, offset = conversion(tag.unit, "degC")
    celsius = pl.col("value") * factor + offset
    near = samples.select((celsius - FREEZES).abs() <= STANDS).to_series().fill_null(False)
    if not near.any():
        return None
    known = pl.when("good").then(celsius)
    day_before = samples.select(known.rolling_median_by("time", _DAY)).to_series()
    return near & (day_before <= FREEZES + COMES_FROM).fill_null(False)
