"""Ct: residual times the time that 90 % of the water stays in contact with it, at least."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pipeline.disinfection.contact import contact_minutes

INPUTS = {"residual_mg_l": "mg/L", "volume_gal": "gal", "flow_gpm": "gpm", "baffling_factor": "1"}
UNIT = "mg/L min"


def calculate(
    residual_mg_l: ArrayLike, volume_gal: ArrayLike, flow_gpm: ArrayLike, baffling_factor: float
) -> NDArray[np.float64]:
    """Return the CT of one segment [mg/L min]: C times T10; NaN where no water flows.

    Parameters
    ----------
    residual_mg_l : array
        Free chlorine at the segment's end.
    volume_gal, flow_gpm : array
        At the lowest level of the hour; the peak hour's.
    baffling_factor : float
        As the state approved it.
    """
    return np.asarray(residual_mg_l, float) * contact_minutes(volume_gal, flow_gpm, baffling_factor)
