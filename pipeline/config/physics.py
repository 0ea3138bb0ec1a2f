"""Physics: which instruments know of each other by nature; ``[[physics.*]]`` of plant.toml."""

from typing import Self

from pydantic import BaseModel, ConfigDict, Field, field_validator, model_validator

from pipeline.config.expressions import parse


class Law(BaseModel):
    """One thing that nature ties together."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    @property
    def units(self) -> dict[str, tuple[str, str]]:
        """Tag and a unit it must be of the kind of, by where it is named."""
        return {}


class BasePressure(Law):
    """A pressure gauge at the foot of a tank (or on the main below it) and the tank's level.

    `hours` are those in which the water hardly moves (wall clock, from and until), so that friction
    takes nothing away.
    """

    level: str
    pressure: str
    hours: tuple[int, int] = (1, 5)

    @field_validator("hours")
    @classmethod
    def _ascending(cls, hours: tuple[int, int]) -> tuple[int, int]:
        if not 0 <= hours[0] < hours[1] <= 24:
            raise ValueError("these are not hours of one day; write for instance [1, 5]")
        return hours

    @property
    def units(self) -> dict[str, tuple[str, str]]:
        """Tag and unit by where it is named."""
        return {"level": (self.level, "ft"), "pressure": (self.pressure, "psi")}


class Storage(Law):
    """A tank of a balance: its level and what a foot of it holds."""

    level: str
    gallons_per_foot: float = Field(gt=0)


class WaterBalance(Law):
    """Meters between which no water is lost; `storage` where tanks lie between them."""

    name: str
    inflows: tuple[str, ...]
    outflows: tuple[str, ...]
    storage: tuple[Storage, ...] = ()

    @model_validator(mode="after")
    def _has_two_sides(self) -> Self:
        if not self.inflows or not self.outflows:
            raise ValueError("a balance has two sides; name at least one tag in inflows and in outflows")
        if set(self.inflows) & set(self.outflows):
            raise ValueError("a meter cannot stand on both sides; name it once")
        return self

    @property
    def units(self) -> dict[str, tuple[str, str]]:
        """Tag and unit by where it is named."""
        flows = {f"{tag} of inflows or outflows": (tag, "gpm") for tag in (*self.inflows, *self.outflows)}
        return flows | {f"{store.level} of storage": (store.level, "ft") for store in self.storage}


class Running(Law):
    """A flow that runs when, and only when, a pump or valve says so."""

    flow: str
    when: str

    @field_validator("when")
    @classmethod
    def _sound(cls, text: str) -> str:
        parse(text)
        return text

    @property
    def units(self) -> dict[str, tuple[str, str]]:
        """Tag and unit by where it is named."""
        return {"flow": (self.flow, "gpm")}


class FeedPace(Law):
    """An analyser that trims a feed, the feed, and the flow that it is fed into.

    `allowed_pct` is how far feed per flow may move while the analyser shows the same.
    """

    analyser: str
    feed: str
    flow: str
    allowed_pct: float = Field(default=20.0, gt=0)

    @property
    def units(self) -> dict[str, tuple[str, str]]:
        """Tag and unit by where it is named."""
        return {"feed": (self.feed, "gph"), "flow": (self.flow, "gpm")}


class Physics(BaseModel):
    """All that nature ties together."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    base_pressure: tuple[BasePressure, ...] = ()
    balance: tuple[WaterBalance, ...] = ()
    running: tuple[Running, ...] = ()
    feed_pace: tuple[FeedPace, ...] = ()
