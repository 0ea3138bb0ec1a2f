"""Onset: is it a ramp or a step, since when, how large by now; all answers weighed, none picked.

Each candidate says that the error was level until some day and has grown in a straight line since
(ramp), or jumped on that day and stayed (step). Every candidate is a linear model with two unknowns,
the level before and the size by now, whose likelihood is known in closed form; the answers are
averages over all candidates by that likelihood, so their interval includes not knowing the onset.
What was learned before the segment began goes in as a prior (`pipeline.spc.prior`): further levels that
a service may have left, and a ramp that goes on as before.
"""

from dataclasses import dataclass

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


def course(
    day: Floats,
    error: Floats,
    sigma: float,
    phi: float = 0.0,
    prior: Prior = NOTHING_KNOWN,
    horizon_days: float = 0.0,
    trust: Floats | None = None,
    tail_df: float | None = None,
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
    Course
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
    courses = {0.0: since >= 0, 1.0: ramp, 2.0: ramp * ramp}
    shapes = np.concatenate([courses[power] for power in table.layout.powers])
    model = _Model(day, error / sigma, shapes, phi, table)
    weight, mean, cov = model.weighed(trust)
    if tail_df is not None:
        for _ in range(_TAIL_ROUNDS):
            off = error / sigma - model.curve(weight, mean)
            weight, mean, cov = model.weighed((tail_df + 1.0) / (tail_df + off**2))
    return _average(weight, mean * sigma, cov * sigma**2, onsets, span, table.layout, horizon_days)


class _Model:
    """Linear models of one series of errors [sigma]: a level, and one shape each."""

    def __init__(self, day: Floats, error: Floats, shapes: Floats, phi: float, table: Candidates) -> None:
        # Without memory two values of one day are independent too, though 0 to the power 0 is 1.
        lagged: Floats = np.power(phi, np.diff(day))
        scale = np.sqrt(np.maximum(1.0 - lagged**2, 1e-6))

        def whiten(rows: Floats) -> Floats:
            if not phi > 0:
                return rows
            white = rows.copy()
            white[..., 1:] = (rows[..., 1:] - lagged * rows[..., :-1]) / scale
            return white

        self.shapes, self.table = shapes, table
        self.y, self.one, self.x = whiten(error), whiten(np.ones_like(error)), whiten(shapes)

    def weighed(self, trust: Floats | None) -> tuple[Floats, Floats, Floats]:
        """Return probability (m,), mean (m, 2), covariance (m, 3: level, both, size) of every candidate."""
        y, one, x, table = self.y, self.one, self.x, self.table
        by_one, by_x = (one, x) if trust is None else (one * trust, x * trust)
        # Sums over the values, once a shape; what differs from candidate to candidate is only its prior.
        xx, x1, xy = np.einsum("ij,ij->i", by_x, x), by_x @ one, by_x @ y
        at, level_weight, size_weight = table.layout.shape, table.level_sd**-2, table.size_sd**-2
        a, b, c = by_one @ one + level_weight, x1[at], xx[at] + size_weight
        from_level = by_one @ y + level_weight * table.level
        from_size = xy[at] + size_weight * table.size
        det = a * c - b * b
        cov = np.array([c, -b, a]) / det
        level, size = cov[0] * from_level + cov[1] * from_size, cov[1] * from_level + cov[2] * from_size
        known = level_weight * table.level**2 + size_weight * table.size**2
        fit = from_level * level + from_size * size
        evidence = table.log_weight + 0.5 * (fit - known + np.log(level_weight * size_weight / det))
        weight = np.exp(evidence - evidence.max())
        return weight / weight.sum(), np.array([level, size]).T, cov.T

    def curve(self, weight: Floats, mean: Floats) -> Floats:
        """Return the expected error at each value [sigma]."""
        size = np.bincount(self.table.layout.shape, weight * mean[:, 1], len(self.shapes))
        return np.asarray(weight @ mean[:, 0] + size @ self.shapes)


def _average(
    weight: Floats,
    mean: Floats,
    cov: Floats,
    onsets: Floats,
    span: Floats,
    courses: Layout,
    horizon_days: float,
) -> Course:
    count, at, power = len(onsets), courses.at, courses.power
    is_ramp = power > 0
    growth = np.where(is_ramp, power / span[at], 0.0)
    grown = (1.0 + horizon_days / span[at]) ** power

    def mixed(factor: Floats) -> Mixture:
        """Level + size * factor, candidate by candidate."""
        square = cov[:, 0] + 2 * factor * cov[:, 1] + factor**2 * cov[:, 2]
        return Mixture(weight, mean[:, 0] + factor * mean[:, 1], np.sqrt(np.maximum(square, 0.0)))

    share = float(weight[is_ramp].sum())
    # A straight course has one rate; only where a bend is far likelier its present one is told.
    straight = np.where(power == 1.0, weight, 0.0)
    growing = straight if straight.sum() > _BENT * share else np.where(is_ramp, weight, 0.0)
    among = growing / growing.sum() if share > 0 else np.full(len(weight), 1.0 / len(weight))
    slope = mean[:, 1] * growth
    rate = float(among @ slope)
    rate_var = float(among @ (cov[:, 2] * growth**2 + slope**2) - rate**2)
    # What grew from the beginning, and what bends, has no onset that one could point at.
    since = np.where(courses.has_begun & (power < 2.0), weight, 0.0)
    since = since if since.sum() > _FEW else weight
    by_onset = np.cumsum(np.bincount(at, since / since.sum(), count))
    low, middle, high = (onsets[min(int(np.searchsorted(by_onset, q)), count - 1)] for q in (0.05, 0.5, 0.95))
    return Course(
        mixed(np.ones(len(weight))), mixed(grown), rate, max(rate_var, 0.0) ** 0.5,
        float(middle), float(low), float(high), share,
    )  # fmt: skip
