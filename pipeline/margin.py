"""Margin: how far a value is inside a limit, and the word for that."""

from typing import Protocol

from pipeline.result import Bounds, LimitStatus

LOWEST_COVERAGE_PCT = 75.0
"""Share of the time in service that must be known before a limit can be called kept.
Common practice for completeness of monitoring data, no source."""

NEAR_SHARE = 0.10
"""Within this share of the limit (of the band, where there are two sides; of what a number in % leaves up to
100, where that is less) a value is called near. Common practice, no source."""


class Sided(Protocol):
    """Anything with a number on one side or both: a limit, or the bounds of a count made by it."""

    @property
    def low(self) -> float | None: ...  # noqa: D102

    @property
    def high(self) -> float | None: ...  # noqa: D102


def sides(limit: Sided) -> list[tuple[float, int]]:
    """Return the limit's numbers with their sides: +1 outside is above, -1 outside is below."""
    pairs = [(limit.high, 1), (limit.low, -1)]
    return [(number, side) for number, side in pairs if number is not None]


def margin(limit: Sided, value: float) -> float:
    """Distance of `value` to the nearer side of the limit [unit]; negative is outside."""
    return min(side * (number - value) for number, side in sides(limit))


def is_near(limit: Sided, value: float, unit: str) -> bool:
    """Tell whether `value` is close to the limit, or beyond it though not for long enough to be outside."""
    return margin(limit, value) < NEAR_SHARE * _width(limit, unit)


def _width(limit: Sided, unit: str) -> float:
    if isinstance(limit, Bounds):
        return limit.width
    if limit.high is not None and limit.low is not None:
        return limit.high - limit.low
    number = abs(sides(limit)[0][0])
    # At least 85 % removed and at most 15 % left are one limit: a share may be told from either end.
    return min(number, 100.0 - number) if unit == "%" and number < 100.0 else number


def status(limit: Sided, value: float | None, is_outside: bool, coverage: float, unit: str) -> LimitStatus:
    """Return the word for a result in `unit`; what is not known is never `within`."""
    if is_outside:
        return "outside"
    if value is None or coverage < LOWEST_COVERAGE_PCT:
        return "not assessable"
    return "near" if is_near(limit, value, unit) else "within"
