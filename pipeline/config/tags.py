"""Tags: one row a signal, with what it measures and when it means something."""

from datetime import timedelta
from typing import Annotated, Literal, Self

from pydantic import BeforeValidator, Field, field_validator, model_validator

from pipeline.config.expressions import parse
from pipeline.config.rows import Row
from pipeline.units import conversion, known_spelling

MEASURES = (
    *("flow", "ph", "turbidity", "chlorine", "temperature", "level", "pressure", "dissolved_oxygen"),
    *("conductivity", "orp", "uv_intensity", "uv_transmittance", "state", "speed", "feed", "head_loss"),
    *("volume", "rain", "salinity", "fluoride", "ammonia", "nitrate", "suspended_solids", "chlorophyll"),
    *("humidity", "air_pressure", "wind", "power", "current", "voltage", "weight", "position", "analysis"),
)
"""Words for what a tag measures; others are allowed, and then no check knows anything particular of it."""

HOLD_STEPS = 2
"""A reading recorded at intervals stands for so many of its steps when no other follows."""

SHORTEST_PACE_S = 60.0
"""A tag recorded on change is read off no oftener: its recorder's own step may be a second."""

UNTIL_THE_NEXT = timedelta(days=36_525)
"""How long a value recorded on change stands where no heartbeat tells a steady tag from a dead one."""


def _states(text: object) -> object:
    """Read ``0=Off|1=On`` into {"off": 0.0, "on": 1.0}."""
    if not isinstance(text, str):
        return text
    found: dict[str, float] = {}
    for pair in text.split("|"):
        number, sign, word = pair.partition("=")
        if word.strip().lower() in found:
            raise ValueError(f"{word.strip()!r} stands for two numbers; keep one of them")
        try:
            found[word.strip().lower()] = float(number)
        except ValueError:
            sign = ""
        if not sign or not word.strip():
            raise ValueError(f"{pair!r} is not a state; write them as 0=Off|1=On")
    return found


def _sentinels(text: object) -> object:
    if not isinstance(text, str):
        return text
    try:
        return tuple(float(part) for part in text.split("|"))
    except ValueError:
        raise ValueError("these are not numbers; write them as -99|9999") from None


class Tag(Row):
    """One signal: its name, its unit, its span and its step.

    Recorded `on change`, a value stands until the next one. `heartbeat_s` is then the longest time for
    which a live tag stays silent: most recorders repeat an unchanged value after some while. Without it
    nothing tells a steady tag from a dead one.
    """

    tag: str
    export_name: str = ""
    description: str = ""
    area: str
    measures: str
    unit: str = "1"
    export_unit: str = ""
    low: float | None = None
    high: float | None = None
    resolution: float | None = Field(default=None, gt=0)
    step_s: float = Field(default=900.0, gt=0)
    recording: Literal["interval", "on change"] = "interval"
    heartbeat_s: float | None = Field(default=None, gt=0)
    instrument: str = ""
    twin: str = ""
    valid_when: str = ""
    states: Annotated[dict[str, float], BeforeValidator(_states)] = Field(default_factory=dict)
    sentinels: Annotated[tuple[float, ...], BeforeValidator(_sentinels)] = ()

    @property
    def name_in_export(self) -> str:
        """The export's name for it; the tag itself where none is given."""
        return self.export_name or self.tag

    @property
    def is_state(self) -> bool:
        """Whether it records a state (pump on, phase) instead of a measurement."""
        return self.measures == "state"

    @property
    def quiet(self) -> timedelta:
        """Longest silence between two readings of a live tag."""
        if self.recording == "interval":
            return timedelta(seconds=self.step_s)
        return timedelta(seconds=self.heartbeat_s) if self.heartbeat_s else UNTIL_THE_NEXT

    @property
    def pace(self) -> timedelta:
        """Time between the readings judged: the step, of a tag recorded on change at least a minute."""
        shortest = 0.0 if self.recording == "interval" else SHORTEST_PACE_S
        return timedelta(seconds=max(self.step_s, shortest))

    @property
    def stands_until_the_next(self) -> bool:
        """Whether a value stands however long no other follows: on change, and no heartbeat is known."""
        return self.recording == "on change" and self.heartbeat_s is None

    @property
    def hold(self) -> timedelta:
        """How long a reading stands when no other follows.

        A heartbeat may come late by the recorder's own step, and one step is forgiven here too.
        """
        step = timedelta(seconds=self.step_s)
        return HOLD_STEPS * step if self.recording == "interval" else self.quiet + step

    @property
    def is_log_scaled(self) -> bool:
        """Whether its errors are shares of the reading (flow, turbidity, feed) rather than amounts."""
        return self.measures in ("flow", "turbidity", "feed")

    @field_validator("unit", "export_unit")
    @classmethod
    def _known_unit(cls, unit: str) -> str:
        if (known := known_spelling(unit)) is None:
            raise ValueError("not a unit we know; write for instance mg/L, NTU, pH, degC, gpm, MGD or ft")
        return known

    @field_validator("valid_when")
    @classmethod
    def _sound_expression(cls, text: str) -> str:
        if text:
            try:
                parse(text)
            except ValueError as error:
                raise ValueError(f"{error}; write for instance YS-101 == 1 and FIT-102 > 50") from None
        return text

    @model_validator(mode="after")
    def _heartbeat_of_a_change(self) -> Self:
        if self.heartbeat_s and self.recording == "interval":
            raise ValueError("heartbeat_s goes with recording = on change; an interval has its step_s")
        return self

    @model_validator(mode="after")
    def _span_upwards(self) -> Self:
        if self.low is not None and self.high is not None and self.low >= self.high:
            raise ValueError(f"low {self.low:g} is not below high {self.high:g}; swap or correct them")
        return self

    def conversion(self) -> tuple[float, float]:
        """Factor and offset from the export's unit to ours (see `pipeline.units.conversion`)."""
        return conversion(self.export_unit or self.unit, self.unit)
