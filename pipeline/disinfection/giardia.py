"""Giardia: the CT that inactivates 3 log with free chlorine, by the rule's table or by regression.

The table is that of 40 CFR 141.74(b)(3)(v), Tables 1.1 to 1.6, 588 cells as printed (a work of the US
government, public domain); at 0.5 degC, pH 7.5 and 2.2 mg/L it prints 297 between 286 and 298, and that is
kept. Nothing is extrapolated: there is no value outside pH 6 to 9. Below 0.5 degC the table of 0.5 holds,
above 25 that of 25, below 0.4 mg/L the row of 0.4 and above 3 that of 3.
"""

import csv
from functools import cache
from importlib.resources import files
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
Method = Literal["conservative", "interpolated", "smith"]

LOGS = 3.0
LOWEST_PH, HIGHEST_PH = 6.0, 9.0
_FILE = "ct999_giardia_free_chlorine.csv"
_COLD_DEGC = 12.5
"""Where the two regressions meet."""


class CtTable:
    """The 588 cells with their edges, each ascending.

    Parameters
    ----------
    temperature_degc : (6,) array
    residual_mg_l : (14,) array
    ph : (7,) array
    cells : (6, 14, 7) array [mg/L min]
    """

    def __init__(self, rows: list[dict[str, str]]) -> None:
        columns = [name for name in rows[0] if name.startswith("pH")]
        self.ph = np.array([float(name.removeprefix("pH")) for name in columns])
        self.temperature_degc = np.array(sorted({float(row["temp_C"]) for row in rows}))
        self.residual_mg_l = np.array(sorted({float(row["residual_mgL"]) for row in rows}))
        cells = [[float(row[name]) for name in columns] for row in rows]
        shape = (len(self.temperature_degc), len(self.residual_mg_l), len(self.ph))
        self.cells = np.array(cells).reshape(shape)


@cache
def table() -> CtTable:
    """Return the rule's table, read once."""
    text = files("pipeline.disinfection").joinpath(_FILE).read_text(encoding="utf-8")
    return CtTable(list(csv.DictReader(text.splitlines())))


def required_ct(
    temperature_degc: ArrayLike, ph: ArrayLike, residual_mg_l: ArrayLike, method: Method = "conservative"
) -> Floats:
    """Return CT99.9, what 3-log inactivation of Giardia takes [mg/L min]; NaN outside the table.

    Parameters
    ----------
    temperature_degc, ph, residual_mg_l : (n,) arrays or numbers
    method : {"conservative", "interpolated", "smith"}
        The next lower temperature, next higher pH and next higher residual; linear between temperatures and
        between pH columns, as the table's note allows, with the next higher residual; the regression.
    """
    every = (temperature_degc, ph, residual_mg_l)
    temperature, acidity, residual = np.broadcast_arrays(*(np.asarray(one, float) for one in every))
    shape = temperature.shape
    temperature, acidity, residual = (np.atleast_1d(one) for one in (temperature, acidity, residual))
    inside = (acidity >= LOWEST_PH) & (acidity <= HIGHEST_PH)
    inside &= np.isfinite(temperature) & np.isfinite(residual)
    cells = table()
    warm = np.clip(temperature, cells.temperature_degc[0], cells.temperature_degc[-1])
    strong = np.clip(residual, cells.residual_mg_l[0], cells.residual_mg_l[-1])
    ways = {"conservative": _conservative, "interpolated": _interpolated, "smith": _smith_3_log}
    found = np.full(temperature.shape, np.nan)
    found[inside] = ways[method](warm[inside], acidity[inside], strong[inside])
    return found.reshape(shape)


def _conservative(temperature: Floats, ph: Floats, residual: Floats) -> Floats:
    cells = table()
    at = np.searchsorted(cells.temperature_degc, temperature + _TINY, side="right") - 1
    found: Floats = cells.cells[at, _row(residual), np.searchsorted(cells.ph, ph - _TINY)]
    return found


_TINY = 1e-9
"""So that 1.2 mg/L, however it was computed, is the row of 1.2."""


def _row(residual: Floats) -> NDArray[np.intp]:
    row: NDArray[np.intp] = np.searchsorted(table().residual_mg_l, residual - _TINY)
    return row


def _interpolated(temperature: Floats, ph: Floats, residual: Floats) -> Floats:
    cells = table()
    row = _row(residual)
    low_t, share_t = _between(cells.temperature_degc, temperature)
    low_p, share_p = _between(cells.ph, ph)
    corners = [
        (weight_t * weight_p, cells.cells[low_t + step_t, row, low_p + step_p])
        for step_t, weight_t in ((0, 1 - share_t), (1, share_t))
        for step_p, weight_p in ((0, 1 - share_p), (1, share_p))
    ]
    found: Floats = np.sum([weight * corner for weight, corner in corners], axis=0)
    return found


def _between(edges: Floats, value: Floats) -> tuple[NDArray[np.intp], Floats]:
    """Return which edge lies below each value, and how far to the next it is (0 to 1)."""
    low = np.clip(np.searchsorted(edges, value, side="right") - 1, 0, len(edges) - 2)
    return low, (value - edges[low]) / (edges[low + 1] - edges[low])


def _smith_3_log(temperature: Floats, ph: Floats, residual: Floats) -> Floats:
    return smith(LOGS, temperature, residual, ph)


def smith(logs: float, temperature_degc: ArrayLike, residual_mg_l: ArrayLike, ph: ArrayLike) -> Floats:
    """Return the regression of Smith, Clark and others (1995) [mg/L min].

    Below 12.5 degC ``CT = 0.353 L (12.006 + exp(2.46 - 0.073 T + 0.125 C + 0.389 pH))``, from there on
    ``CT = 0.361 L (-2.261 + exp(2.69 - 0.065 T + 0.111 C + 0.361 pH))``. It is nowhere below the table.
    """
    t, c, p = (np.asarray(one, float) for one in (temperature_degc, residual_mg_l, ph))
    cold = 0.353 * logs * (12.006 + np.exp(2.46 - 0.073 * t + 0.125 * c + 0.389 * p))
    warm = 0.361 * logs * (-2.261 + np.exp(2.69 - 0.065 * t + 0.111 * c + 0.361 * p))
    found: Floats = np.where(t < _COLD_DEGC, cold, warm)
    return found
