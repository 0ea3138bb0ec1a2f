"""Limits: one row a number that a permit, a rule or the plant itself set."""

from typing import Literal, Self

from pydantic import Field, field_validator, model_validator

from pipeline.config.rows import Row
from pipeline.units import is_known, spelling


class Limit(Row):
    """One limit on one tag; values beyond `low` or `high` are outside."""

    limit_id: str
    tag: str
    label: str = ""
    statistic: str = "instantaneous"
    period: str = ""
    low: float | None = None
    high: float | None = None
    unit: str = ""
    min_minutes: float = Field(default=0.0, ge=0)
    merge_minutes: float = Field(default=0.0, ge=0)
    deadband: float = Field(default=0.0, ge=0)
    severity: Literal["act", "watch", "note"] = "act"
    source: str = ""

    @field_validator("unit")
    @classmethod
    def _known_unit(cls, unit: str) -> str:
        if unit and not is_known(unit):
            raise ValueError("not a unit we know; leave it blank for the tag's own")
        return spelling(unit)

    @model_validator(mode="after")
    def _has_a_side(self) -> Self:
        if self.low is None and self.high is None:
            raise ValueError("neither low nor high is given; fill in at least one")
        if self.low is not None and self.high is not None and self.low >= self.high:
            raise ValueError(f"low {self.low} is not below high {self.high}; swap or correct them")
        return self

    @property
    def name(self) -> str:
        """What the report calls it."""
        return self.label or self.limit_id
