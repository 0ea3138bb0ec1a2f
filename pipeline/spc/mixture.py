"""Mixture: a number known as several normal distributions, each with its probability; tails taken exactly."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_HALVINGS = 40


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
        return replace(self, spread=self.spread * factor)

    def below(self, bound: float) -> float:
        """Probability of less than `bound`."""
        # A part without any spread counts as a very narrow one.
        return float(self.weight @ normal_below((bound - self.centre) / np.maximum(self.spread, 1e-12)))

    def beyond(self, bound: float) -> float:
        """Probability of the likelier side of lying beyond plus or minus `bound`."""
        return float(max(self.below(-bound), 1.0 - self.below(bound)))

    def quantile(self, share: float) -> float:
        """Value that is undercut with probability `share` [unit], by halving the range."""
        reach = 9.0 * float(np.max(self.spread)) + 1e-9
        low, high = float(np.min(self.centre)) - reach, float(np.max(self.centre)) + reach
        for _ in range(_HALVINGS):
            middle = 0.5 * (low + high)
            low, high = (middle, high) if self.below(middle) < share else (low, middle)
        return 0.5 * (low + high)


def normal_below(z: Floats) -> Floats:
    """Return the standard normal distribution function to 1.5e-7 (Abramowitz and Stegun 1964, 7.1.26)."""
    x = np.abs(z) / np.sqrt(2.0)
    t = 1.0 / (1.0 + 0.3275911 * x)
    series = t * (0.254829592 + t * (-0.284496736 + t * (1.421413741 + t * (-1.453152027 + t * 1.061405429))))
    tail = 0.5 * series * np.exp(-(x**2))
    return np.asarray(np.where(z > 0, 1.0 - tail, tail), np.float64)
