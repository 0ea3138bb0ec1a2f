"""Virus: the CT that inactivates 2, 3 and 4 log with free chlorine.

US EPA, Guidance Manual for Compliance with the Filtration and Disinfection Requirements (1991), Table E-7, as
a public water-chemistry library cites it; the 2-log value at 25 degC and pH 6 to 9 is from memory. The next
lower temperature counts; from pH 6 to 9 the first columns, above 9 up to 10 those of pH 10.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

MOST_LOGS = 4.0
TEMPERATURES_DEGC = np.array([0.5, 5.0, 10.0, 15.0, 20.0, 25.0])
LOGS = (2, 3, 4)
PH_6_TO_9 = np.array([[6, 9, 12], [4, 6, 8], [3, 4, 6], [2, 3, 4], [1, 2, 3], [1, 1, 2]], float)
PH_10 = np.array([[45, 66, 90], [30, 44, 60], [22, 33, 45], [15, 22, 30], [11, 16, 22], [7, 11, 15]], float)


def required_ct(temperature_degc: ArrayLike, ph: ArrayLike, logs: int = 4) -> Floats:
    """Return the CT for `logs` of inactivation [mg/L min]; NaN outside pH 6 to 10."""
    temperature, acidity = np.broadcast_arrays(np.asarray(temperature_degc, float), np.asarray(ph, float))
    known = np.isfinite(temperature) & (acidity >= 6.0) & (acidity <= 10.0)
    warm = np.clip(np.where(known, temperature, 0.5), TEMPERATURES_DEGC[0], None)
    row = np.searchsorted(TEMPERATURES_DEGC, warm + 1e-9, side="right") - 1
    column = LOGS.index(logs)
    found = np.where(acidity <= 9.0, PH_6_TO_9[row, column], PH_10[row, column])
    return np.where(known, found, np.nan)


def inactivation(ct: ArrayLike, temperature_degc: ArrayLike, ph: ArrayLike) -> Floats:
    """Return the log inactivation of a CT [log], in proportion to that of 4 log and at most the table's 4."""
    ratio = np.asarray(ct, float) / required_ct(temperature_degc, ph)
    return np.minimum(MOST_LOGS * ratio, MOST_LOGS)
