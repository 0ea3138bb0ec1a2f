"""Onset: is it a ramp or a step, since when, how large by now; all answers weighed, none picked.

Each candidate says that the error was level until some day and has grown in a straight line since
(ramp), or jumped on that day and stayed (step). Every candidate is a linear model with two unknowns,
the level before and the size by now, whose likelihood is known in closed form; the answers are
averages over all candidates by that likelihood, so their interval includes not knowing the onset.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Course:
    """What a series of errors came to.

    Parameters
    ----------
    error, error_sd : float
        Present error and its standard deviation [unit].
    rate, rate_sd : float
        Growth among the ramps [unit/day].
    onset, onset_low, onset_high : float
        Median and 90 % range of the first day of the change, on the clock of the input [day].
    ramp_share : float
        Probability that it is a ramp rather than a step.
    at_horizon, at_horizon_sd : float
        Error expected at the horizon, ramps growing on and steps staying [unit].
    """

    error: float
    error_sd: float
    rate: float
    rate_sd: float
    onset: float
    onset_low: float
    onset_high: float
    ramp_share: float
    at_horizon: float
    at_horizon_sd: float


def course(
    day: Floats,
    error: Floats,
    sigma: float,
    phi: float = 0.0,
    level_sd: float = 0.7,
    size_sd: float = 8.0,
    horizon_days: float = 0.0,
) -> Course:
    """Weigh every ramp and step that may explain a series of errors.

    Parameters
    ----------
    day : (n,) array [day]
        Ascending; gaps allowed, and for `phi` 0 several values a day.
    error : (n,) array [unit]
        Finite.
    sigma : float [unit]
        Standard deviation of one value about the course.
    phi : float
        Correlation of values a day apart; 0 for grabs.
    level_sd, size_sd : float
        Prior spread of the level before and of the size by now, in sigmas.
    horizon_days : float [day]
        How far beyond the last value `at_horizon` looks.

    Returns
    -------
    Course
    """
    onsets = np.unique(np.concatenate([[day[0]], 0.5 * (day[1:] + day[:-1])])) if len(day) > 1 else day[:1]
    span = day[-1] - onsets
    span = np.where(span > 0, span, 1.0)
    ramp = np.clip((day[None, :] - onsets[:, None]) / span[:, None], 0.0, 1.0)
    step = (day[None, :] >= onsets[:, None]).astype(np.float64)
    shapes = np.concatenate([ramp, step])
    evidence, mean, cov = _weigh(day, error / sigma, shapes, phi, level_sd, size_sd)
    weight = np.exp(evidence - evidence.max())
    weight /= weight.sum()
    return _average(weight, mean * sigma, cov * sigma**2, onsets, span, horizon_days)


def _weigh(
    day: Floats, error: Floats, shapes: Floats, phi: float, level_sd: float, size_sd: float
) -> tuple[Floats, Floats, Floats]:
    """Log evidence (m,), mean (m, 2) and covariance (m, 2, 2) of level and size for each shape."""
    # Without memory two values of one day are independent too, though 0 to the power 0 is 1.
    lagged: Floats = np.power(phi, np.diff(day)) if phi > 0 else np.zeros(len(day) - 1)
    scale = np.sqrt(np.maximum(1.0 - lagged**2, 1e-6))

    def whiten(rows: Floats) -> Floats:
        white = rows.copy()
        white[..., 1:] = (rows[..., 1:] - lagged * rows[..., :-1]) / scale
        return white

    y, one, x = whiten(error), whiten(np.ones_like(error)), whiten(shapes)
    precision = np.empty((len(x), 2, 2))
    precision[:, 0, 0] = one @ one + level_sd**-2
    precision[:, 0, 1] = precision[:, 1, 0] = x @ one
    precision[:, 1, 1] = np.einsum("ij,ij->i", x, x) + size_sd**-2
    pull = np.stack([np.full(len(x), one @ y), x @ y], axis=1)
    cov = np.linalg.inv(precision)
    mean = np.einsum("ijk,ik->ij", cov, pull)
    log_det = np.linalg.slogdet(precision)[1]
    evidence = 0.5 * np.einsum("ij,ij->i", pull, mean) - 0.5 * log_det
    return evidence, np.asarray(mean, np.float64), np.asarray(cov, np.float64)


def _average(
    weight: Floats, mean: Floats, cov: Floats, onsets: Floats, span: Floats, horizon_days: float
) -> Course:
    count = len(onsets)
    growth = np.concatenate([1.0 / span, np.zeros(count)])

    def mixed(size_factor: Floats) -> tuple[float, float]:
        """Mean and sd of level + size * factor over all shapes."""
        centre = mean[:, 0] + size_factor * mean[:, 1]
        spread = cov[:, 0, 0] + 2 * size_factor * cov[:, 0, 1] + size_factor**2 * cov[:, 1, 1]
        average = float(weight @ centre)
        return average, max(float(weight @ (spread + centre**2)) - average**2, 0.0) ** 0.5

    error, error_sd = mixed(np.ones(2 * count))
    ahead, ahead_sd = mixed(1.0 + growth * horizon_days)
    ramp_weight = weight[:count]
    share = float(ramp_weight.sum())
    among = ramp_weight / share if share > 0 else np.full(count, 1.0 / count)
    slope = mean[:count, 1] / span
    rate = float(among @ slope)
    rate_var = float(among @ (cov[:count, 1, 1] / span**2 + slope**2) - rate**2)
    by_onset = np.cumsum(ramp_weight + weight[count:])
    low, middle, high = (onsets[min(int(np.searchsorted(by_onset, q)), count - 1)] for q in (0.05, 0.5, 0.95))
    return Course(
        error, error_sd, rate, max(rate_var, 0.0) ** 0.5, float(middle), float(low), float(high),
        share, ahead, ahead_sd,
    )  # fmt: skip
