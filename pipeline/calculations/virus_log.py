"""Virus log: the log inactivation of viruses by free chlorine in one segment, at most 4."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pipeline.disinfection.virus import inactivation

INPUTS = {"ct": "mg/L min", "temperature_degc": "degC", "ph": "pH"}
UNIT = "log"


def calculate(ct: ArrayLike, temperature_degc: ArrayLike, ph: ArrayLike) -> NDArray[np.float64]:
    """Return the log inactivation of a CT [log]; NaN outside pH 6 to 10."""
    return inactivation(ct, temperature_degc, ph)
