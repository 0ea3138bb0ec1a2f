"""Running: a pump that is off moves nothing, and one that is on moves what it usually moves."""

from collections.abc import Mapping
from datetime import timedelta

import polars as pl

from pipeline.baseline.states import condition_of, settled, spans, within
from pipeline.case import Case
from pipeline.config.physics import Running
from pipeline.config.plant import State
from pipeline.facts import CONTRADICTIONS
from pipeline.neighbours.daily import day_of
from pipeline.table import conform

SETTLE = timedelta(minutes=30)
"""After a start or a stop the flow is neither here nor there."""

SMALL_SHARE = 0.1
"""Of what usually flows: less is a leaking check valve or a meter's zero, more is a flow."""

USUAL_DAYS, FEWEST_USUAL_DAYS = 28, 7


def contradictions(
    cases: Mapping[str, Case], told: tuple[Running, ...], states: Mapping[str, State]
) -> dict[str, pl.DataFrame]:
    """Return the readings of each flow that deny what its pump says, a table of CONTRADICTIONS."""
    found: dict[str, pl.DataFrame] = {}
    for one in told:
        condition, settle = condition_of(states, one.when)
        signals = {name: _signal(cases[name]) for name in condition.names}
        wait = max(settle, SETTLE)
        case = cases[one.flow]
        good = case.regular.filter(pl.col("good") & ~within(case.regular["time"], case.at_work))
        parts = [good.filter(within(good["time"], settled(held, wait))) for held in spans(condition, signals)]
        usual = _usual(case, parts[0])
        denied = [_denied(case, part, usual, k == 0, one.when) for k, part in enumerate(parts)]
        found[one.flow] = conform(pl.concat(denied).sort("time"), CONTRADICTIONS)
    return found


def _signal(case: Case) -> tuple[pl.DataFrame, timedelta]:
    rows = case.standing(pl.col("good"))
    known = pl.when("good").then("value").alias("value")
    return (rows.select("time", known) if case.tag.recording == "on change" else
            rows.filter("good").select("time", "value")), case.hold  # fmt: skip


def _usual(case: Case, on: pl.DataFrame) -> pl.DataFrame:
    """``day, usual``: median of what flowed while running on the days before."""
    flowing = on.filter(pl.col("value") > 0).group_by(day_of(case).alias("day")).agg(pl.col("value").median())
    before = pl.col("value").shift(1).rolling_median(USUAL_DAYS, min_samples=FEWEST_USUAL_DAYS)
    return flowing.sort("day").select("day", before.alias("usual"))


def _denied(case: Case, part: pl.DataFrame, usual: pl.DataFrame, running: bool, when: str) -> pl.DataFrame:
    """Rows that deny the state, with the number of the run of such rows that each belongs to."""
    rows = part.select("time", "value", day_of(case).alias("day"))
    rows = rows.join_asof(usual.drop_nulls(), on="day", strategy="backward")
    small = SMALL_SHARE * pl.col("usual")
    deny = (pl.col("value") < small) if running else (pl.col("value") > small)
    marked = rows.with_columns(deny.fill_null(False).alias("deny"))
    spell = (~pl.col("deny")).cum_sum()
    last = marked.select(spell.alias("last"))["last"][-1] if marked.height else 0
    return marked.with_columns(
        spell.cast(pl.UInt32).alias("spell"),
        (spell == last).alias("lasts"),
        pl.lit(running).alias("running"),
        pl.lit(when).alias("when"),
    ).filter("deny")
