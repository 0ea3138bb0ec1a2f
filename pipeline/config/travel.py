"""Travel: how long water takes from area to area, and how late a tag shows what happens where it stands."""

from pydantic import BaseModel, ConfigDict, Field


class Reach(BaseModel):
    """Water flows from one area into another and takes about so long."""

    model_config = ConfigDict(extra="forbid", frozen=True, populate_by_name=True)

    source: str = Field(alias="from")
    to: str
    minutes: float = Field(ge=0)


class DeadTime(BaseModel):
    """A tag shows so late what happens where it stands: sample line, sensor, averaging."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    tag: str
    minutes: float = Field(ge=0)
