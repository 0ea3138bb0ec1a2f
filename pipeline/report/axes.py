"""Axes: round numbers and round times to put ticks at."""

from datetime import datetime, timedelta
from math import ceil, floor, log10

from pipeline.report.words import day_word, number

_HOURS = (1, 2, 3, 6, 12, 24, 48, 168, 336, 672, 1344, 2184)
_MONDAY = datetime(2001, 1, 1)
"""Ticks of whole weeks fall on Mondays."""


def value_range(values: list[float]) -> tuple[float, float]:
    """Return the levels an axis runs between, with a little room at both ends."""
    if not values:
        return 0.0, 1.0
    low, high = min(values), max(values)
    room = 0.08 * (high - low) or abs(high) * 0.05 or 1.0
    floor_at_zero = low >= 0 and low - room < 0
    return (0.0 if floor_at_zero else low - room), high + room


def value_ticks(low: float, high: float, most: int = 4) -> list[tuple[float, str]]:
    """Return about `most` round levels between `low` and `high`, with their text."""
    rough = (high - low) / most
    power = 10.0 ** floor(log10(rough))
    step = next(factor * power for factor in (1, 2, 2.5, 5, 10) if factor * power >= rough * 0.999)
    places = max(0, -floor(log10(step) + 1e-9)) + (1 if abs(step / power - 2.5) < 1e-6 else 0)
    first, last = ceil(low / step - 1e-9), floor(high / step + 1e-9)
    return [(count * step, number(count * step, places)) for count in range(first, last + 1)]


def time_ticks(
    start: datetime, end: datetime, most: int = 6, weekdays: bool = True
) -> list[tuple[datetime, str]]:
    """Return at most about `most` round wall-clock times between `start` and `end`, with their text."""
    span_h = (end - start).total_seconds() / 3600
    step = timedelta(hours=next((hours for hours in _HOURS if span_h / hours <= most), 8736))
    tick = _MONDAY + ceil((start - _MONDAY) / step) * step
    found: list[tuple[datetime, str]] = []
    while tick <= end:
        found.append((tick, _tick_text(tick, step, len(found) == 0, weekdays)))
        tick += step
    return found


def _tick_text(tick: datetime, step: timedelta, first: bool, weekdays: bool) -> str:
    day = day_word(tick.date())
    if step >= timedelta(hours=168) or (step >= timedelta(hours=24) and not weekdays):
        return day.partition(" ")[2]
    if step >= timedelta(hours=24) or (tick.hour == 0 and tick.minute == 0):
        return day
    return f"{day[:3]} {tick:%H:%M}" if first else f"{tick:%H:%M}"
