"""Sentinels: numbers that look like "no reading" (-99, 9999), named as candidates and never taken out.

A candidate is a number that recorders are known to write where they have none, or one that returns again
and again far outside everything else. Which of them it is only the plant knows, so tags.csv's `sentinels`
stays blank: a reading is not made void by a guess.
"""

from dataclasses import dataclass, replace

import polars as pl

from pipeline.setup.guess import Signal, plain

_DIGITS = ("9", "8", "7", "6")
USUAL = frozenset(
    float(sign + digit * count + tail)
    for sign in ("", "-")
    for digit in _DIGITS
    for count in (2, 3, 4, 5, 6)
    for tail in ("", ".9", ".99")
) | {-100.0, -200.0, -250.0, -1000.0, -10000.0, -32768.0, 32767.0, 65535.0}
"""Numbers that recorders write for "no reading": common practice, no source."""

FEWEST_TIMES = 3
MOST_CANDIDATES = 5
FAR_SPREADS = 3.0
"""So many times the width of all the rest must a candidate lie outside of it."""


@dataclass(frozen=True)
class Candidate:
    """A number that may stand for "no reading", and how often it was seen."""

    number: float
    times: int

    def __str__(self) -> str:
        return f"{plain(self.number)} ({self.times} times)"


def candidates(signal: Signal) -> tuple[Candidate, ...]:
    """Return the numbers of a tag that may be sentinels, ascending.

    A number that the rest of the record reaches is a reading, whatever it looks like: 99 %, -9 degC.
    """
    counts = signal.numbers.rename("number").value_counts().sort("number")
    found: list[Candidate] = []
    while (one := _suspect(counts, 0) or _suspect(counts, -1)) is not None and len(found) < MOST_CANDIDATES:
        found.append(one)
        counts = counts.filter(pl.col("number") != one.number)
    return tuple(sorted(found, key=lambda one: one.number))


def _suspect(counts: pl.DataFrame, end: int) -> Candidate | None:
    """Return the lowest (0) or highest (-1) number where it lies apart from all others."""
    number, times = (counts["number"][end], counts["count"][end]) if counts.height > 1 else (0.0, 0)
    if number == 0.0:  # a pump that stands delivers nothing: zero is a reading
        return None
    rest = counts.slice(1) if end == 0 else counts.slice(0, counts.height - 1)
    low, high = float(rest["number"].min()), float(rest["number"].max())  # type: ignore[arg-type]
    distance = low - number if end == 0 else number - high
    # Storms and spikes reach far up, and few things reach far down: below, the bulk is the yardstick.
    # A single other number has no width: fresh water's salinity reads 0.1 or 0.2, a pump's flow 0 or 50.
    width = max(_bulk(rest) if end == 0 else high - low, abs(high) * (1.0 if rest.height == 1 else 0.01))
    far = width > 0.0 and distance > FAR_SPREADS * width
    usual = number in USUAL and distance > 0.5 * width
    if usual or (far and times >= FEWEST_TIMES):
        return Candidate(float(number), int(times))
    return None


def _bulk(counts: pl.DataFrame) -> float:
    """Width of the middle 98 % of the record."""
    share = counts["count"].cum_sum() / counts["count"].sum()
    middle = counts.filter((share >= 0.01) & (share <= 0.99))["number"]
    return float(middle[-1] - middle[0]) if len(middle) else 0.0


def without(signal: Signal, found: tuple[Candidate, ...]) -> Signal:
    """Return the signal without its candidates, for the guesses that they would spoil."""
    if not found:
        return signal
    numbers = [one.number for one in found]
    kept = signal.readings.filter(~pl.col("number").is_in(numbers).fill_null(False))
    return replace(signal, readings=kept)
