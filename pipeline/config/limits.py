"""Limits: one row a number that a permit, a rule or the plant itself set."""

import re
from decimal import ROUND_HALF_UP, Decimal
from typing import Literal, Self

from pydantic import Field, field_validator, model_validator

from pipeline.clock import WEEKDAYS
from pipeline.config.rows import Row
from pipeline.units import known_spelling

_OWN = re.compile(r"(the )?(plant.?s |our )?own\b", re.IGNORECASE)
"""How a source begins that is the plant's own and neither a permit's nor a rule's."""

PERIODS = ("day", "7 days", "week", "30 days", "month", "quarter", "half-year", "year")
"""Stretches that a permit or a rule names. The statistic says which is judged."""


def _one_of(text: str, known: tuple[str, ...], what: str) -> str:
    if text and text not in known:
        raise ValueError(f"not {what}; use one of {', '.join(known)}")
    return text


class Limit(Row):
    """One limit on one tag; values beyond `low` or `high` are outside.

    What else a statistic wants to know: `allow`, how much may be outside (percent of the readings that must
    be inside, minutes, days or months, as the statistic says); `basis`, the recorded trend or the lab's
    samples; `at_least`, how many sampled days it takes; `rounding`, decimals (half up) before comparing;
    `non_detect`, what stands for a result "less than". `clause` names a rule that fills in what is blank;
    `notice` says who may have to be told of an exceedance, and by when; `on_failure` what is asked for while
    the instrument does not record.
    """

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
    allow: float | None = Field(default=None, ge=0)
    basis: Literal["trend", "lab"] = "trend"
    at_least: int = Field(default=1, ge=1)
    rounding: int | None = Field(default=None, ge=0, le=9)
    non_detect: Literal["zero", "half", "limit", "median"] | None = None
    percentile: float | None = Field(default=None, gt=0, lt=100)
    percentile_rule: Literal["R6", "R7", "R8"] = "R6"
    week_starts: str = ""
    second_tag: str = ""
    clause: str = ""
    notice: str = ""
    on_failure: str = ""

    @field_validator("period")
    @classmethod
    def _known_period(cls, period: str) -> str:
        return _one_of(period, PERIODS, "a period that a limit is taken over")

    @field_validator("week_starts")
    @classmethod
    def _known_day(cls, day: str) -> str:
        return _one_of(day, WEEKDAYS, "a weekday")

    @field_validator("unit")
    @classmethod
    def _known_unit(cls, unit: str) -> str:
        if (known := known_spelling(unit) if unit else "") is None:
            raise ValueError("not a unit we know; leave it blank for the tag's own")
        return known

    @model_validator(mode="after")
    def _has_a_side(self) -> Self:
        if self.low is None and self.high is None and not self.clause:
            raise ValueError("neither low nor high is given; fill in at least one")
        if self.low is not None and self.high is not None and self.low >= self.high:
            raise ValueError(f"low {self.low} is not below high {self.high}; swap or correct them")
        return self

    @model_validator(mode="after")
    def _can_be_averaged(self) -> Self:
        if self.non_detect == "zero" and self.statistic.endswith("geometric_mean"):
            raise ValueError("a geometric mean with a zero in it is zero; use half or limit for non_detect")
        return self

    def rounded(self, value: float) -> float:
        """Return `value` as it is compared with the limit.

        A dropped digit of 5 and more rounds up, less than 5 does not (the rule of US drinking water:
        0.0105 becomes 0.011 and 0.0104 becomes 0.010). The decimal number that is meant is rounded,
        not the binary one that stands for it.
        """
        if self.rounding is None:
            return value
        # Twelve digits are those of the number meant; what floating point adds lies beyond them.
        meant = Decimal(f"{value:.12g}")
        return float(meant.quantize(Decimal(1).scaleb(-self.rounding), rounding=ROUND_HALF_UP))

    @property
    def is_own(self) -> bool:
        """Whether its source says that the plant set it (``plant's own alarm``): nobody has to be told."""
        return bool(_OWN.match(self.source)) and not self.notice

    @property
    def name(self) -> str:
        """What the report calls it."""
        return self.label or self.limit_id
