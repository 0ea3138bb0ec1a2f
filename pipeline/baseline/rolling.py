"""Rolling: the median and the robust spread of a moving window."""

import polars as pl

from pipeline.spc.robust import MAD_TO_SD


def rolling_median(value: pl.Expr, window: int, fewest: int) -> pl.Expr:
    """Median of the last `window` values; missing values are left out, never ranked.

    Parameters
    ----------
    value : polars expression
        Floats on a regular step.
    window, fewest : int
        Length, and how many values it must hold to have a median.
    """
    return value.fill_nan(None).rolling_median(window, min_samples=fewest)


def rolling_mad_sd(value: pl.Expr, window: int, fewest: int) -> pl.Expr:
    """Return 1.4826 times the rolling median of the distance from the rolling median.

    Each distance is taken from the median of its own window, not from the last one's, which is a
    third of the work and equals the textbook MAD where the level holds.
    """
    distance = (value.fill_nan(None) - rolling_median(value, window, fewest)).abs()
    return MAD_TO_SD * rolling_median(distance, window, fewest)
