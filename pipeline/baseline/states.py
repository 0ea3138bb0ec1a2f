"""States: the spans of time in which a reading means something (a filter in service, a pump on)."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import timedelta

import polars as pl

from pipeline.config.expressions import parse
from pipeline.config.plant import State
from pipeline.facts import SPANS
from pipeline.table import TIME, conform, empty

Signals = Mapping[str, tuple[pl.DataFrame, timedelta]]
"""For each name in a condition: its good readings (``time, value``) and how long one stands."""


@dataclass(frozen=True)
class Condition:
    """What must hold.

    Parameters
    ----------
    holds : polars expression
        Over columns called `names` and `states`; null where it cannot be told.
    names : tuple of str
        Tags it rests on.
    states : dict of str to polars expression
        Named states that `holds` speaks of, each over `names`.
    """

    holds: pl.Expr
    names: tuple[str, ...]
    states: dict[str, pl.Expr] = field(default_factory=dict)


def condition_of(states: Mapping[str, State], text: str) -> tuple[Condition, timedelta]:
    """Return a condition over tags alone, and how long it must have held.

    Parameters
    ----------
    states : mapping of str to State
        By name; `text` may name them.
    text : str
        A state's name or an expression.
    """
    state = states.get(text)
    expression = parse(state.when if state else text)
    inner = {name: states[name] for name in expression.names if name in states}
    parts = {name: parse(part.when) for name, part in inner.items()}
    tags = [name for name in expression.names if name not in inner]
    names = dict.fromkeys([*tags, *(name for part in parts.values() for name in part.names)])
    settle = max([state.settle_minutes if state else 0.0, *(part.settle_minutes for part in inner.values())])
    conditions = {name: part.condition for name, part in parts.items()}
    return Condition(expression.condition, tuple(names), conditions), timedelta(minutes=settle)


def spans(condition: Condition, signals: Signals) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Return the spans in which `condition` is known to hold, and those in which it is known not to."""
    told = _told(condition, signals)
    return _runs(told, pl.col("holds")), _runs(told, ~pl.col("holds"))


def _told(condition: Condition, signals: Signals) -> pl.DataFrame:
    """``time, holds`` of every instant at which the answer may change; null where it cannot be told."""
    instants = _instants(condition.names, signals)
    for name in condition.names:
        readings, hold = signals[name]
        known = readings.select("time", pl.col("value").alias(name))
        # A reading stands for `time <= t < time + hold`, so look back just short of the hold.
        reach = hold - timedelta(microseconds=1)
        instants = instants.join_asof(known, on="time", strategy="backward", tolerance=reach)
    states = [holds.cast(pl.Float64).alias(name) for name, holds in condition.states.items()]
    return instants.with_columns(states).select("time", condition.holds.alias("holds"))


def _runs(told: pl.DataFrame, holds: pl.Expr) -> pl.DataFrame:
    """Return the spans in which an answer is known to be yes."""
    held = told.select("time", holds.fill_null(False).alias("holds"))
    changes = held.filter((pl.col("holds") != pl.col("holds").shift(1)).fill_null(True))
    # The last instant is always an expiry, at which nothing is known any more: no span lacks its end.
    runs = changes.with_columns(pl.col("time").shift(-1).alias("end")).filter("holds")
    return conform(runs.rename({"time": "start"}), SPANS)


def _instants(names: tuple[str, ...], signals: Signals) -> pl.DataFrame:
    """Every instant at which the answer may change: new readings, and where an old one expires."""
    times = [pl.Series("time", [], dtype=TIME)]
    for name in names:
        readings, hold = signals[name]
        stamps = readings["time"]
        expiry, following = stamps + hold, stamps.shift(-1)
        times += [stamps, expiry.filter(following.is_null() | (following > expiry))]
    return pl.concat([series.rename("time") for series in times]).unique().sort().to_frame()


def changes(true: pl.DataFrame, false: pl.DataFrame) -> pl.Series:
    """Return when an answer was seen to change, ascending; where one side is not known nothing was seen.

    Parameters
    ----------
    true, false : DataFrame of SPANS
        When it was known to be yes, and to be no.
    """
    return pl.concat([begun(true, false)["start"], begun(false, true)["start"]]).sort()


def begun(one: pl.DataFrame, other: pl.DataFrame) -> pl.DataFrame:
    """Return the spans of one answer whose beginning was seen: where the other one ended."""
    return one.filter(pl.col("start").is_in(other["end"].implode()))


def settled(spans: pl.DataFrame, settle: timedelta) -> pl.DataFrame:
    """Cut `settle` off the beginning of every span: a filter ripens, a pump's flow steadies."""
    return spans.with_columns(pl.col("start") + settle).filter(pl.col("start") < pl.col("end"))


def settling(spans: pl.DataFrame, settle: timedelta) -> pl.DataFrame:
    """Return what `settled` cuts off."""
    end = pl.min_horizontal(pl.col("start") + settle, pl.col("end"))
    return spans.with_columns(end.alias("end")).filter(pl.col("start") < pl.col("end"))


def union(parts: list[pl.DataFrame]) -> pl.DataFrame:
    """Join overlapping and touching spans into one ascending table of spans that lie apart."""
    every = pl.concat([part.select("start", "end") for part in parts] or [empty(SPANS)]).sort("start", "end")
    reached = pl.col("end").cum_max().shift(1)
    begins = (pl.col("start") > reached).fill_null(True).cum_sum().alias("span")
    joined = every.group_by(begins, maintain_order=True).agg(pl.col("start").min(), pl.col("end").max())
    return conform(joined, SPANS)


def within(times: pl.Series, spans: pl.DataFrame) -> pl.Series:
    """Tell for each of the ascending `times` whether it lies in one of `spans`."""
    if spans.height == 0:
        return pl.repeat(False, len(times), eager=True)
    found = (
        times.alias("time").to_frame().join_asof(spans, left_on="time", right_on="start", strategy="backward")
    )
    return found.select((pl.col("time") < pl.col("end")).fill_null(False).alias("inside"))["inside"]
