"""Giardia log: the log inactivation of Giardia by free chlorine in one segment, at most 3."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pipeline.disinfection.contact import MOST_GIARDIA_LOGS, giardia_logs
from pipeline.disinfection.giardia import Method, required_ct

INPUTS = {"ct": "mg/L min", "temperature_degc": "degC", "ph": "pH", "residual_mg_l": "mg/L"}
UNIT = "log"


def calculate(
    ct: ArrayLike,
    temperature_degc: ArrayLike,
    ph: ArrayLike,
    residual_mg_l: ArrayLike,
    method: Method = "conservative",
) -> NDArray[np.float64]:
    """Return 3 CT / CT99.9 [log], capped at the table's 3; NaN outside the table."""
    ratio = np.asarray(ct, float) / required_ct(temperature_degc, ph, residual_mg_l, method)
    return np.minimum(giardia_logs([ratio]), MOST_GIARDIA_LOGS)
