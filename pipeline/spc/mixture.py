"""Mixture: a number known as several normal distributions, each with its probability; tails taken exactly."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_STEPS, _CLOSE = 60, 1e-12
"""Of a search for a quantile: at most so many, and the share of the range at which it has come to rest."""

_PEAK = float(1.0 / np.sqrt(2.0 * np.pi))


@dataclass(frozen=True)
class Mixture:
    """A weighted sum of normal distributions.

    Parameters
    ----------
    weight, centre, spread : (m,) arrays
        Probabilities that add up to 1; means and standard deviations [unit].
    """

    weight: Floats
    centre: Floats
    spread: Floats

    @property
    def mean(self) -> float:
        """Expectation [unit]."""
        return float(self.weight @ self.centre)

    @property
    def sd(self) -> float:
        """Standard deviation, that between the parts included [unit]."""
        square = float(self.weight @ (self.spread**2 + self.centre**2)) - self.mean**2
        return float(max(square, 0.0) ** 0.5)

    def widened(self, factor: float) -> "Mixture":
        """Return the same with every part so much wider."""
        return Mixture(self.weight, self.centre, self.spread * factor)

    def below(self, bound: float) -> float:
        """Probability of less than `bound`."""
        # A part without any spread counts as a very narrow one.
        return float(self.weight @ normal_below((bound - self.centre) / np.maximum(self.spread, 1e-12)))

    def beyond(self, bound: float) -> float:
        """Probability of the likelier side of lying beyond plus or minus `bound`."""
        return float(max(self.below(-bound), 1.0 - self.below(bound)))

    def quantile(self, share: float) -> float:
        """Value that is undercut with probability `share` [unit], by Newton's steps within a bracket."""
        spread = np.maximum(self.spread, 1e-12)
        reach = 9.0 * float(np.max(spread)) + 1e-9
        low, high = float(np.min(self.centre)) - reach, float(np.max(self.centre)) + reach
        value, close = self.mean, _CLOSE * reach
        for _ in range(_STEPS):
            z = (value - self.centre) / spread
            off = float(self.weight @ normal_below(z)) - share
            low, high = (value, high) if off < 0 else (low, value)
            slope = float((self.weight / spread) @ np.exp(-0.5 * z**2)) * _PEAK
            before, value = value, value - off / slope if slope > 0 else low
            # Where the slope leads out of the bracket, halve it.
            value = value if low < value < high else 0.5 * (low + high)
            if abs(value - before) < close:
                break
        return value


def normal_below(z: Floats) -> Floats:
    """Return the standard normal distribution function."""
    # Slow to import: a run that judges nothing does without.
    from scipy.special import ndtr

    return np.asarray(ndtr(z), np.float64)
