"""Uv dose: intensity times the time in the light."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

INPUTS = {"intensity_mw_cm2": "mW/cm2", "exposure_s": "s"}
UNIT = "mJ/cm2"


def calculate(intensity_mw_cm2: ArrayLike, exposure_s: ArrayLike) -> NDArray[np.float64]:
    """Return the dose [mJ/cm2]: mW/cm2 times seconds."""
    found: NDArray[np.float64] = np.asarray(intensity_mw_cm2, float) * np.asarray(exposure_s, float)
    return found
