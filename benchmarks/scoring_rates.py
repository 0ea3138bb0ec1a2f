"""Rates: shares with Wilson intervals, counts per time, medians; None where there is nothing to count."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

Z95 = 1.959963984540054


@dataclass(frozen=True)
class Share:
    """`hits` of `n`."""

    hits: int
    n: int

    @property
    def value(self) -> float | None:
        """The share itself."""
        return self.hits / self.n if self.n else None

    @property
    def interval(self) -> tuple[float, float]:
        """95 % interval (Wilson 1927): ``(p + z^2/2n +- z sqrt(p(1-p)/n + z^2/4n^2)) / (1 + z^2/n)``."""
        if not self.n:
            return 0.0, 1.0
        p, square = self.hits / self.n, Z95**2 / self.n
        half = Z95 * np.sqrt(p * (1 - p) / self.n + square / (4 * self.n))
        return float((p + square / 2 - half) / (1 + square)), float((p + square / 2 + half) / (1 + square))

    def __str__(self) -> str:
        if not self.n:
            return "-"
        low, high = self.interval
        return f"{self.value:.2f} [{low:.2f}-{high:.2f}] n={self.n}"


def share(marks: Iterable[bool]) -> Share:
    """Count marks."""
    told = [bool(mark) for mark in marks]
    return Share(sum(told), len(told))


def quantile(values: Sequence[float], q: float) -> float | None:
    """Quantile of what is finite."""
    known = np.asarray(values, dtype=np.float64)
    known = known[np.isfinite(known)]
    return float(np.quantile(known, q)) if known.size else None


def half_width(values: Sequence[float]) -> float | None:
    """Half the distance between the quartiles."""
    low, high = quantile(values, 0.25), quantile(values, 0.75)
    return None if low is None or high is None else (high - low) / 2
