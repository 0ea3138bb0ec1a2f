"""Uv transmittance: the share of light at 254 nm that passes 1 cm of water, from its absorbance."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

INPUTS = {"absorbance_per_cm": "1/cm"}
UNIT = "%"


def calculate(absorbance_per_cm: ArrayLike) -> NDArray[np.float64]:
    """Return ``100 x 10^(-A)`` [%]."""
    found: NDArray[np.float64] = 100.0 * 10.0 ** -np.asarray(absorbance_per_cm, float)
    return found
