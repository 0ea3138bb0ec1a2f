"""Visits: the logged services of one instrument, each with the error it found and the error it left.

Errors are instrument minus reference, and are also given as shares of the tolerance at the reading they
belong to: so the part found in the water and the part found in a standard of another strength add up.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from pipeline.case import RESTARTS, Case
from pipeline.service.errors import calibration_drift, fouling

ONE_VISIT = timedelta(hours=12)
"""Lines of the log less than this apart are one visit: cleaned first, then calibrated."""

Row = dict[str, Any]


@dataclass(frozen=True)
class Error:
    """An error [unit of the tag], and as a share of the tolerance (None where there is none)."""

    amount: float
    share: float | None


@dataclass(frozen=True)
class Visit:
    """One visit.

    Parameters
    ----------
    time : datetime
        Of its first line [UTC].
    kinds : tuple of str
        In the order of the log.
    found, left : Error or None
        Instrument minus reference as found and as left; None where the log does not tell.
    fouling, drift : Error or None
        Parts of the error found: gone with cleaning; left after it. None where they cannot be told apart.
    """

    time: datetime
    kinds: tuple[str, ...]
    found: Error | None
    left: Error | None
    fouling: Error | None
    drift: Error | None

    @property
    def restarts(self) -> bool:
        """Whether errors begin anew with it."""
        return any(kind in RESTARTS for kind in self.kinds)


def visits(case: Case) -> list[Visit]:
    """Return the visits of the case's instrument, oldest first."""
    return [_visit(case, rows) for rows in _grouped(case.services.sort("time").rows(named=True))]


def _grouped(rows: list[Row]) -> Iterator[list[Row]]:
    group: list[Row] = []
    for row in rows:
        if group and row["time"] - group[-1]["time"] >= ONE_VISIT:
            yield group
            group = []
        group.append(row)
    if group:
        yield group


def _visit(case: Case, rows: list[Row]) -> Visit:
    fouled = next((part for row in rows if (part := _fouling(case, row)) is not None), None)
    drifted = _drift(case, rows)
    found = _difference(case, rows[0]["as_found"], rows[0]["reference"])
    if fouled is not None and drifted is not None:
        found = _sum(fouled, drifted)
    last = rows[-1]
    left = _difference(case, last["as_left"], _reference(last))
    return Visit(rows[0]["time"], tuple(row["kind"] for row in rows), found, left, fouled, drifted)


def _fouling(case: Case, row: Row) -> Error | None:
    """Error that went with cleaning."""
    after = row["cleaned"] if row["kind"] != "cleaning" or row["cleaned"] is not None else row["as_left"]
    if row["as_found"] is None or after is None:
        return None
    start, end = row["reference"], row["reference_after"]
    steady = start is None or end is None
    correction = fouling(row["as_found"], after, 0.0 if steady else start, 0.0 if steady else end)
    return _error(case, -correction, row["as_found"])


def _drift(case: Case, rows: list[Row]) -> Error | None:
    """Error of the clean instrument against its reference."""
    is_clean = False
    for row in rows:
        reading = row["cleaned"] if row["cleaned"] is not None else row["as_found"] if is_clean else None
        standard = _reference(row)
        if row["kind"] != "cleaning" and reading is not None and standard is not None:
            return _error(case, -calibration_drift(standard, reading), standard)
        is_clean = is_clean or row["kind"] == "cleaning"
    return None


def _reference(row: Row) -> float | None:
    value = row["reference_after"] if row["reference_after"] is not None else row["reference"]
    return None if value is None else float(value)


def _difference(case: Case, reading: float | None, reference: float | None) -> Error | None:
    return None if reading is None or reference is None else _error(case, reading - reference, reference)


def _error(case: Case, amount: float, at: float) -> Error:
    tolerance = case.tolerance_at(at)
    return Error(amount, amount / tolerance if tolerance else None)


def _sum(one: Error, other: Error) -> Error:
    known = one.share is not None and other.share is not None
    return Error(one.amount + other.amount, (one.share or 0.0) + (other.share or 0.0) if known else None)
