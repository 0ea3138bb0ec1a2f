"""Onset: is it a ramp or a step, since when, how large by now; all answers weighed, none picked.

Each candidate says that the error was level until some day and has grown in a straight line since
(ramp), or jumped on that day and stayed (step). Every candidate is a linear model with two unknowns,
the level before and the size by now, whose likelihood is known in closed form; the answers are
averages over all candidates by that likelihood, so their interval includes not knowing the onset.
What was learned before the segment began goes in as a prior (`pipeline.spc.prior`): further levels that
a service may have left, and a ramp that goes on as before.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from pipeline.spc.mixture import Mixture
from pipeline.spc.prior import NOTHING_KNOWN, Candidates, Layout, Prior

Floats = NDArray[np.float64]

_FEW, _BENT = 0.02, 0.2
_TAIL_ROUNDS = 2


@dataclass(frozen=True)
class Course:
    """What a series of errors came to.

    Parameters
    ----------
    now, ahead : Mixture
        Present error, and the error at the horizon, ramps growing on and steps staying [unit].
    rate, rate_sd : float
        Growth among the ramps [unit/day].
    onset, onset_low, onset_high : float
        Median and 90 % range of the first day of the change, on the clock of the input [day].
    ramp_share : float
        Probability that it is a ramp rather than a step.
    """

    now: Mixture
    ahead: Mixture
    rate: float
    rate_sd: float
    onset: float
    onset_low: float
    onset_high: float
    ramp_share: float

    @property
    def error(self) -> float:
        """Expected present error [unit]."""
        return self.now.mean

    @property
    def error_sd(self) -> float:
        """Its standard deviation [unit]."""
        return self.now.sd


@dataclass(frozen=True)
class Weighed:
    """Every explanation of a series of errors with its probability; what it came to is told when asked.

    Parameters
    ----------
    weight : (m,) array
        Probabilities that add up to 1.
    mean : (m, 2) array [unit]
        Level before, and size by now.
    cov : (m, 3) array [unit squared]
        Variance of the level, covariance, variance of the size.
    onsets, span : (k,) arrays [day]
        First days of change, and how long before the last value they lie.
    layout : Layout
    horizon_days : float [day]
    """

    weight: Floats
    mean: Floats
    cov: Floats
    onsets: Floats
    span: Floats
    layout: Layout
    horizon_days: float

    @cached_property
    def now(self) -> Mixture:
        """Present error [unit]."""
        return self._grown(1.0)

    def _grown(self, factor: Floats | float) -> Mixture:
        """Level + size * factor, candidate by candidate."""
        cov = self.cov
        square = cov[:, 0] + 2 * factor * cov[:, 1] + factor**2 * cov[:, 2]
        return Mixture(
            self.weight, self.mean[:, 0] + factor * self.mean[:, 1], np.sqrt(np.maximum(square, 0.0))
        )

    def course(self) -> Course:
        """Return what the series came to."""
        weight, power, at = self.weight, self.layout.power, self.layout.at
        is_ramp = power > 0
        growth = np.where(is_ramp, power / self.span[at], 0.0)
        ahead = self._grown((1.0 + self.horizon_days / self.span[at]) ** power)
        share = float(weight[is_ramp].sum())
        # A straight course has one rate; only where a bend is far likelier its present one is told.
        straight = np.where(power == 1.0, weight, 0.0)
        growing = straight if straight.sum() > _BENT * share else np.where(is_ramp, weight, 0.0)
        among = growing / growing.sum() if share > 0 else np.full(len(weight), 1.0 / len(weight))
        slope = self.mean[:, 1] * growth
        rate = float(among @ slope)
        rate_var = float(among @ (self.cov[:, 2] * growth**2 + slope**2) - rate**2)
        return Course(self.now, ahead, rate, max(rate_var, 0.0) ** 0.5, *self._onset(), share)

    def _onset(self) -> tuple[float, float, float]:
        """Median and 90 % range of the first day of the change."""
        layout, count = self.layout, len(self.onsets)
        # What grew from the beginning, and what bends, has no onset that one could point at.
        since = np.where(layout.has_begun & (layout.power < 2.0), self.weight, 0.0)
        since = since if since.sum() > _FEW else self.weight
        by_onset = np.cumsum(np.bincount(layout.at, since / since.sum(), count))
        at = np.minimum(np.searchsorted(by_onset, (0.5, 0.05, 0.95)), count - 1)
        middle, low, high = self.onsets[at].tolist()
        return middle, low, high


def weighed(
    day: Floats,
    error: Floats,
    sigma: float,
    phi: float = 0.0,
    prior: Prior = NOTHING_KNOWN,
    horizon_days: float = 0.0,
    trust: Floats | None = None,
    tail_df: float | None = None,
) -> Weighed:
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
    prior : Prior
        What was known before the first value.
    horizon_days : float [day]
        How far beyond the last value `ahead` looks.
    trust : (n,) array or None
        Weight of each value, 1 for `sigma` as it is; only for `phi` 0.
    tail_df : float or None
        The values scatter like Student's t with so few degrees of freedom: each counts by how far it is off
        (Lange, Little and Taylor 1989; from memory). Only for `phi` 0.

    Returns
    -------
    Weighed
    """
    begin = day[0] if prior.begin is None else min(prior.begin, day[0])
    onsets = np.append(begin, 0.5 * (day[1:] + day[:-1]))
    onsets = onsets[np.append(True, onsets[1:] > onsets[:-1])]
    # Neighbouring onsets say the same; more of them would only cost time.
    onsets = onsets[:: -(-len(onsets) // prior.most_onsets)]
    span = day[-1] - onsets
    span = np.where(span > 0, span, 1.0)
    table = prior.candidates(len(onsets), float(span[0]), sigma)
    since = day - onsets[:, None]
    ramp = np.minimum(np.maximum(since / span[:, None], 0.0), 1.0)
    shapes = np.concatenate([ramp**power if power else since >= 0 for power in table.layout.powers])
    model = _Model(day, error / sigma, shapes, phi, table)
    weight, mean, cov = model.weighed(trust)
    if tail_df is not None:
        for _ in range(_TAIL_ROUNDS):
            off = error / sigma - model.curve(weight, mean)
            weight, mean, cov = model.weighed((tail_df + 1.0) / (tail_df + off**2))
    return Weighed(weight, mean * sigma, cov * sigma**2, onsets, span, table.layout, horizon_days)


class _Model:
    """Linear models of one series of errors [sigma]: a level, and one shape each."""

    def __init__(self, day: Floats, error: Floats, shapes: Floats, phi: float, table: Candidates) -> None:
        self.shapes, self.table = shapes, table
        self.y, self.one, self.x = error, np.ones_like(error), shapes
        if phi > 0:
            self.y, self.one, self.x = _whitened((self.y, self.one, self.x), phi ** np.diff(day))
        # What is held of the candidates before the first value is the same in every round.
        self.level_weight, self.size_weight = table.level_sd**-2, table.size_sd**-2
        self.level_held, self.size_held = self.level_weight * table.level, self.size_weight * table.size
        self.known = self.level_weight * table.level**2 + self.size_weight * table.size**2
        self.width = self.level_weight * self.size_weight

    def weighed(self, trust: Floats | None) -> tuple[Floats, Floats, Floats]:
        """Return probability (m,), mean (m, 2), covariance (m, 3: level, both, size) of every candidate."""
        y, one, x, at = self.y, self.one, self.x, self.table.layout.shape
        by_one, by_x = (one, x) if trust is None else (one * trust, x * trust)
        # Sums over the values, once a shape; what differs from candidate to candidate is only its prior.
        xx, x1, xy = np.einsum("ij,ij->i", by_x, x), by_x @ one, by_x @ y
        a, b, c = by_one @ one + self.level_weight, x1[at], xx[at] + self.size_weight
        from_level, from_size = by_one @ y + self.level_held, xy[at] + self.size_held
        det = a * c - b * b
        cov = np.array([c, -b, a]) / det
        level, size = cov[0] * from_level + cov[1] * from_size, cov[1] * from_level + cov[2] * from_size
        fit = from_level * level + from_size * size
        evidence = self.table.log_weight + 0.5 * (fit - self.known + np.log(self.width / det))
        weight = np.exp(evidence - evidence.max())
        return weight / weight.sum(), np.array([level, size]).T, cov.T

    def curve(self, weight: Floats, mean: Floats) -> Floats:
        """Return the expected error at each value [sigma]."""
        size = np.bincount(self.table.layout.shape, weight * mean[:, 1], len(self.shapes))
        return np.asarray(weight @ mean[:, 0] + size @ self.shapes)


def _whitened(series: tuple[Floats, ...], lagged: Floats) -> tuple[Floats, ...]:
    """Take off each value what it shares with the one before it, and scale what is left to sigma."""
    scale = np.sqrt(np.maximum(1.0 - lagged**2, 1e-6))
    white = tuple(rows.copy() for rows in series)
    for rows, plain in zip(white, series, strict=True):
        rows[..., 1:] = (plain[..., 1:] - lagged * plain[..., :-1]) / scale
    return white
