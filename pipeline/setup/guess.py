"""Guess: a value for the config with the evidence it rests on; and the signal that guesses are made of."""

from dataclasses import dataclass
from datetime import timedelta
from functools import cached_property

import polars as pl

SAY_WHICH = ": say which"
"""How the evidence ends where the user must decide."""


@dataclass(frozen=True)
class Guess:
    """What would stand in the config.

    Parameters
    ----------
    value : str
        As written there; empty where nothing could be drafted.
    evidence : str
        Why, in words; empty where there is nothing to say.
    """

    value: str
    evidence: str = ""


@dataclass(frozen=True)
class Signal:
    """One tag of the exports, read.

    Parameters
    ----------
    name : str
        In the export.
    readings : DataFrame of ``time, text, number``
        Sorted by time (as on the recorder's clock), one row an instant; `number` is null where the
        text is none. The text is trimmed and never empty.
    mark : {".", ","}
        Decimal mark of the texts.
    unit : str
        What the export itself says its unit is; mostly blank.
    """

    name: str
    readings: pl.DataFrame
    mark: str = "."
    unit: str = ""

    @cached_property
    def numbers(self) -> pl.Series:
        """The numbers alone, in the order of time."""
        return self.readings["number"].drop_nulls()

    @cached_property
    def words(self) -> pl.Series:
        """The texts that are no number."""
        return self.readings.filter(pl.col("number").is_null())["text"]

    @cached_property
    def waits(self) -> pl.Series:
        """Times from one reading to the next, a Series of Duration."""
        return self.readings["time"].diff().drop_nulls()

    @property
    def length(self) -> timedelta:
        """Time from the first to the last reading."""
        time = self.readings["time"]
        return time[-1] - time[0] if len(time) else timedelta()

    @property
    def sample(self) -> str:
        """One text, the most frequent that is no number, for people to recognise the column by."""
        if self.words.is_empty():
            return ""
        counts = self.words.value_counts(sort=True)
        return str(counts.sort("count", "text", descending=[True, False])["text"][0])


def plain(number: float) -> str:
    """Return a number as people write it: no exponent for ordinary sizes, no trailing zeros."""
    text = f"{number:.10g}"
    return text if "e" not in text else f"{number:f}".rstrip("0").rstrip(".")


def share(part: int, whole: int) -> float:
    """Part of a whole, 0 of nothing."""
    return part / whole if whole else 0.0
