"""Flow per head: gallons a person a day; it screens infiltration and inflow (40 CFR 35.2005(b)(28))."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

INPUTS = {"flow_mgd": "MGD", "population": "1"}
UNIT = "gpd"
DRY_LIMIT_GPD = 120.0
"""Not excessive infiltration is less than this, averaged over 7 to 14 days of high groundwater."""
STORM_LIMIT_GPD = 275.0
"""In a storm more than this calls for a study (35.2120)."""


def calculate(flow_mgd: ArrayLike, population: ArrayLike) -> NDArray[np.float64]:
    """Return gallons a person a day [gpd]; NaN for nobody."""
    flow, people = np.broadcast_arrays(np.asarray(flow_mgd, float), np.asarray(population, float))
    with np.errstate(divide="ignore", invalid="ignore"):
        found: NDArray[np.float64] = np.where(people > 0, flow * 1e6 / people, np.nan)
    return found
