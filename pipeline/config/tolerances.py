"""Tolerances: the admissible error by what is measured, for instruments to which the plant gives none.

Each line of tolerances.csv names its source and how far that was read: ``read`` in a copy of the named
place, ``second hand`` in a quotation of it, ``from memory``, or ``no source``. A number that the plant
writes into instruments.csv always wins. `service_days` is the longest time from calibration to calibration
that a rule or guidance names, and `between` what they ask for in the meantime: no advice on intervals goes
beyond the one or takes the place of the other.
"""

import csv
from functools import cache
from pkgutil import get_data

from pydantic import BaseModel, ConfigDict, Field

from pipeline.config.instruments import Instrument
from pipeline.config.tags import Tag
from pipeline.units import conversion


class Tolerance(BaseModel):
    """One line: the larger of `tolerance` [unit] and `tolerance_pct` [% of the reading] holds."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    measures: str
    unit: str = ""
    tolerance: float | None = Field(default=None, gt=0)
    tolerance_pct: float | None = Field(default=None, gt=0)
    source: str
    read: str
    service_days: float | None = Field(default=None, gt=0)
    between: str = ""

    @property
    def told(self) -> str:
        """Where the number comes from and how far that was read, for the page."""
        checked = "" if self.read == "read" else f" ({self.read}: check)"
        return f"default, the plant names none: {self.source}{checked}"


@cache
def tolerances() -> dict[str, Tolerance]:
    """Return every line by what is measured."""
    # Part of the package like its code, not a file of the plant: what finds the one finds the other.
    text = (get_data("pipeline.config", "tolerances.csv") or b"").decode()
    lines = [{name: cell for name, cell in row.items() if cell} for row in csv.DictReader(text.splitlines())]
    return {line["measures"]: Tolerance.model_validate(line) for line in lines}


def with_default(instrument: Instrument | None, tag: Tag) -> Instrument | None:
    """Return `instrument` with the default tolerance of what `tag` measures where the plant gives none.

    Parameters
    ----------
    instrument : Instrument or None
        As in instruments.csv; one that names a tolerance of its own is returned as it is.
    tag : Tag
        Whose error is judged; the tolerance comes back in its unit.
    """
    if instrument is None or instrument.tolerance is not None or instrument.tolerance_pct is not None:
        return instrument
    default = tolerances().get(tag.measures)
    if default is None:
        return instrument
    amount = _in_unit_of(tag, default)
    if amount is None and default.tolerance_pct is None:
        return instrument
    filled = {"tolerance": amount, "tolerance_pct": default.tolerance_pct, "tolerance_source": default.told}
    return instrument.model_copy(update=filled)


def _in_unit_of(tag: Tag, default: Tolerance) -> float | None:
    """Return the tolerance in the tag's unit; None where the two measure different things."""
    if default.tolerance is None:
        return None
    try:
        # A difference has a factor and no offset: 0.5 degC is 0.9 degF.
        return default.tolerance * abs(conversion(default.unit, tag.unit)[0])
    except ValueError:
        return None
