"""Clauses: rules as data that fill in what a row of limits.csv leaves blank; none applies by itself.

Each file of `pipeline/limits/rules` is a set; another country's rules are one more file.
"""

import tomllib
from functools import cache
from pathlib import Path
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, ValidationError

from pipeline.config.limits import Limit
from pipeline.config.plainly import plainly
from pipeline.errors import Fault

RULES = Path(__file__).parents[1] / "limits" / "rules"
_MEMORY = "from memory"


class Clause(BaseModel):
    """One clause: what it is about, where it stands, how far that was read, and what it fills in.

    `plant_gives` names the columns that every plant fills in for itself.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    about: str
    citation: str
    verified: str
    statistic: str
    low: float | None = None
    high: float | None = None
    unit: str = ""
    allow: float | None = None
    basis: Literal["trend", "lab"] = "trend"
    severity: Literal["act", "watch", "note"] = "act"
    notice: str = ""
    on_failure: str = ""
    plant_gives: tuple[str, ...] = ()

    @property
    def source(self) -> str:
        """Citation for the report; where nobody has read the number, it says so."""
        return f"{self.citation} ({_MEMORY}: check)" if self.verified == _MEMORY else self.citation

    def filled(self) -> dict[str, Any]:
        """Return what the clause puts into blank cells."""
        names = ("statistic", "low", "high", "unit", "allow", "basis", "severity", "notice", "on_failure")
        # What the plant has to give is no part of the name.
        return {
            "label": self.about.partition(";")[0],
            "source": self.source,
            **{name: getattr(self, name) for name in names},
        }


@cache
def clauses(folder: Path = RULES) -> dict[str, Clause]:
    """Return every clause as ``file.clause``, in the order of the files."""
    return {
        f"{path.stem}.{name}": Clause.model_validate(content)
        for path in sorted(folder.glob("*.toml"))
        for name, content in tomllib.loads(path.read_text(encoding="utf-8")).items()
    }


def with_clauses(limits: list[Limit]) -> tuple[list[Limit], list[Fault]]:
    """Return limits with the blank cells of those that name a clause filled in; what the row says wins."""
    found: list[Limit] = []
    faults: list[Fault] = []
    for limit in limits:
        filled, problems = _filled(limit) if limit.clause else (limit, [])
        found += [filled] if filled else []
        faults += problems
    return found, faults


def _filled(limit: Limit) -> tuple[Limit | None, list[Fault]]:
    here = ("config/limits.csv", limit.row)
    clause = clauses().get(limit.clause)
    if clause is None:
        remedy = f"use one of {', '.join(clauses())}"
        return None, [Fault(*here, "clause", f"no clause {limit.clause!r}", remedy)]
    own = {name: getattr(limit, name) for name in limit.model_fields_set}
    sides = [name for name in ("low", "high") if name in clause.plant_gives]
    given = [name for name in sides if own.get(name) is not None]
    missing = [name for name in clause.plant_gives if name not in own and name not in sides]
    if sides and not given:
        missing.append(sides[0])
    if missing:
        problem = f"{limit.clause} leaves it to the plant, and the cell is blank"
        return None, [Fault(*here, name, problem, "fill in your permit's or state's") for name in missing]
    try:
        return Limit.model_validate({**clause.filled(), **own}), []
    except ValidationError as error:
        told = [plainly(dict(problem)) for problem in error.errors()]
        return None, [
            Fault(*here, "clause", problem, remedy or "correct the row") for problem, remedy in told
        ]
