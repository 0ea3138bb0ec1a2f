"""Disinfection: a segment of contact, the tags that tell of it and its approved baffling factor."""

from typing import Literal, Self

from pydantic import BaseModel, ConfigDict, Field, model_validator


class Segment(BaseModel):
    """One stretch of contact between two points at which chlorine is added or measured.

    The volume is `gallons` where it is always full (a pipe), else `gallons_per_foot` of `level`, above
    `gallons_at_zero`. The baffling factor is the one the state approved; `source` says where.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    name: str
    flow: str
    residual: str
    ph: str
    temperature: str
    level: str = ""
    gallons: float | None = Field(default=None, gt=0)
    gallons_per_foot: float | None = Field(default=None, gt=0)
    gallons_at_zero: float = Field(default=0.0, ge=0)
    baffling_factor: float = Field(gt=0, le=1)
    source: str
    method: Literal["conservative", "interpolated", "smith"] = "conservative"

    @model_validator(mode="after")
    def _has_a_volume(self) -> Self:
        by_level = bool(self.level) and self.gallons_per_foot is not None
        if by_level == (self.gallons is not None):
            raise ValueError("its volume is not told; give gallons, or level with gallons_per_foot")
        return self

    @property
    def units(self) -> dict[str, tuple[str, str]]:
        """Tag and the unit it is reckoned in, by what it measures."""
        told = {
            "flow": (self.flow, "gpm"),
            "residual": (self.residual, "mg/L"),
            "ph": (self.ph, "pH"),
            "temperature": (self.temperature, "degC"),
        }
        return told | ({"level": (self.level, "ft")} if self.gallons is None else {})
