"""Schedule: when the system's timer calls `run`; ``[schedule]`` of plant.toml."""

from datetime import time
from typing import Annotated

from pydantic import AfterValidator, BaseModel, ConfigDict, field_validator

from pipeline.clock import WEEKDAYS


def _known_day(day: str) -> str:
    if day not in WEEKDAYS:
        raise ValueError(f"not a weekday; use one of {', '.join(WEEKDAYS)}")
    return day


Weekday = Annotated[str, AfterValidator(_known_day)]
"""One of `WEEKDAYS`."""


class Schedule(BaseModel):
    """A day of the week and an hour, after the exports of the week have come.

    `day` left out is the day on which the plant's week begins. Both are by the plant's clock.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    day: Weekday | None = None
    at: str = "05:00"

    @field_validator("at")
    @classmethod
    def _an_hour(cls, text: str) -> str:
        try:
            hour = time.fromisoformat(text)
        except ValueError:
            raise ValueError("not a time of day; write hours and minutes such as 05:00") from None
        if hour.second or hour.microsecond or hour.tzinfo:
            raise ValueError("more than hours and minutes; write it such as 05:00")
        return text

    @property
    def hour(self) -> time:
        """`at` as a time of day."""
        return time.fromisoformat(self.at)
