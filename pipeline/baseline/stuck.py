"""Stuck: runs of identical readings longer than this signal's own past makes likely."""

from datetime import date, datetime, timedelta, tzinfo

import numpy as np
import polars as pl

from pipeline.baseline.blocks import blocks
from pipeline.clock import midnight
from pipeline.config.tags import Tag
from pipeline.epoch import MICROSECOND, epoch_us
from pipeline.facts import PAUSES, STUCK
from pipeline.spc.runs import Ints, longest_usual_run, run_bounds
from pipeline.table import conform, empty

LEARN_DAYS = 182
"""Past that a block learns from; half a year holds some 10,000 runs of a 15-minute signal."""

YEAR = timedelta(days=365.25)
FEWEST_READINGS = 5
SHORTEST = timedelta(hours=1)
MOST_REPEATS = 0.60
"""Share of readings equal to the one before, above which an export is taken to be thinned out by its
recorder: a repeat then says nothing."""

MOST_NEWS = 12
"""Stuck runs in half a year that are still faults, one a fortnight; more are the signal's new habit."""

_NEVER = np.iinfo(np.int64).min


RESTS = {"flow": 0.02, "feed": 0.02, "speed": 0.02}
"""Share of the span up to which these rest: what hardly moves has no noise to show. Common practice, no
source."""

PAUSE_SHARE = 1.0 / 3.0
"""Of what a run is allowed: from there on it counts when other signals pause from the same instant."""


def resting_below(tag: Tag) -> float | None:
    """Return the value up to which a tag rests, and repeats itself for no fault; None where it never does."""
    if tag.measures not in RESTS or tag.low is None or tag.high is None:
        return None
    return tag.low + RESTS[tag.measures] * (tag.high - tag.low)


def stuck_of(paused: pl.DataFrame) -> pl.DataFrame:
    """Return those of PAUSES that are too long to be chance even alone, a table of STUCK."""
    return conform(paused.drop_nulls("crossed"), STUCK)


def pauses(
    readings: pl.DataFrame, step: timedelta, zone: tzinfo, heartbeat: timedelta | None = None
) -> pl.DataFrame:
    """Find the runs of identical values that are longer than a third of what is too long to be chance.

    Parameters
    ----------
    readings : DataFrame
        ``time, value, sound``: sound = good and in a state in which it should move.
    step : timedelta
        Nominal time between readings; a longer wait than two steps breaks a run, unless it goes on while the
        reading does not count, as while a filter rests: only what counts makes it longer.
    zone : tzinfo
        Whose calendar the blocks follow.
    heartbeat : timedelta, optional
        How often a recorder that keeps changes alone speaks all the same: runs are then counted in its beats,
        and that readings mostly repeat the one before is no wonder.

    Returns
    -------
    DataFrame of PAUSES
        What each run was allowed was learned from before the block in which it began.
    """
    sound = readings.filter("sound")
    if sound.height < FEWEST_READINGS:
        return empty(PAUSES)
    time = sound["time"].dt.epoch("us").to_numpy()
    value = sound["value"].to_numpy()
    step_us = step // MICROSECOND
    joined = np.append(False, np.diff(time) <= 2 * step_us) | _goes_on(readings, step_us)
    first, last = run_bounds(value, joined)
    length = last - first + 1
    allowed = _allowed(sound["time"][0], sound["time"][-1], time[first], length, step, zone, heartbeat)
    fewest = np.maximum(np.ceil(PAUSE_SHARE * allowed), FEWEST_READINGS)
    hit = np.flatnonzero(length > fewest)
    if hit.size == 0:
        return empty(PAUSES)
    follows = np.append(time, time[-1] + step_us)[last[hit] + 1]
    ends = np.minimum(follows, time[last[hit]] + 2 * step_us)
    bar, third = allowed[hit].astype(np.int64), fewest[hit].astype(np.int64)
    told = np.minimum(first[hit] + bar, last[hit])
    found = pl.DataFrame(
        {
            "start": time[first[hit]],
            "end": ends,
            "paused": time[first[hit] + third],
            "crossed": np.where(length[hit] > bar, time[told], _NEVER),
            "readings": length[hit],
            "value": value[first[hit]],
            "allowed_minutes": bar * (step_us / 60e6),
        }
    )
    crossed = pl.when(pl.col("crossed") != _NEVER).then("crossed").alias("crossed")
    dated = found.with_columns(crossed).with_columns(
        _instant(name) for name in ("start", "end", "paused", "crossed")
    )
    return conform(dated, PAUSES)


def _goes_on(readings: pl.DataFrame, step_us: int) -> "np.ndarray[tuple[int], np.dtype[np.bool_]]":
    """Mark the sound readings before which nothing else was shown since the sound one before."""
    time, value = readings["time"].dt.epoch("us").to_numpy(), readings["value"].to_numpy()
    changes = (value[1:] != value[:-1]) | (np.diff(time) > 2 * step_us)
    shown = np.append(0, np.cumsum(changes))[readings["sound"].to_numpy()]
    return np.append(False, shown[1:] == shown[:-1])


def counted(readings: pl.DataFrame, stuck: pl.DataFrame, days: pl.Expr) -> pl.Series:
    """Mark the readings that counted as usable at the end of their own day.

    A frozen run gives itself away only after a while. Until the day on which it did, its readings
    counted; they go on counting, or what was found that day would change when it is looked back upon.

    Parameters
    ----------
    readings : DataFrame of READINGS
    stuck : DataFrame of STUCK
    days : polars expression
        Local date of the column ``time``.
    """
    if stuck.height == 0:
        return readings["usable"]
    told = stuck.select(pl.col("crossed").alias("time")).select(days.alias("told"))["told"]
    runs = stuck.select("start", pl.col("end").alias("until"), pl.col("value").alias("frozen_at"), told)
    left_out = pl.col("stuck") & pl.col("good") & pl.col("in_state")
    suspects = readings.with_row_index("row").filter(left_out)
    found = suspects.join_asof(runs, left_on="time", right_on="start", strategy="backward")
    in_run = (pl.col("time") < pl.col("until")) & (pl.col("value") == pl.col("frozen_at"))
    unnoticed = found.filter(in_run & (days < pl.col("told")))["row"]
    return readings["usable"].scatter(unnoticed, True).alias("counted")


def _instant(column: str) -> pl.Expr:
    return pl.from_epoch(column, "us").dt.replace_time_zone("UTC")


def _allowed(
    begin: datetime,
    end: datetime,
    starts: Ints,
    length: Ints,
    step: timedelta,
    zone: tzinfo,
    heartbeat: timedelta | None,
) -> "np.ndarray[tuple[int], np.dtype[np.float64]]":
    """Return, for every run, the longest run that is still usual; infinite while too little is known."""
    allowed = np.full(len(starts), np.inf)
    news = np.zeros(len(starts), bool)
    fewest = max(FEWEST_READINGS, int(SHORTEST / step))
    beat = max(heartbeat // step, 1) if heartbeat else 1
    first_us = epoch_us(begin)
    for block_from, block_to in blocks(_local_day(begin, zone), _local_day(end, zone)):
        now, until = epoch_us(midnight(block_from, zone)), epoch_us(midnight(block_to, zone))
        since = max(now - LEARN_DAYS * 86_400_000_000, first_us)
        low, high = np.searchsorted(starts, [since, now])
        past = _without_news(length[low:high], news[low:high])
        if past.size and (heartbeat or (1.0 - past.size / past.sum()) <= MOST_REPEATS):
            # Years in which it ran: a pump on duty for a week repeats itself as often as one for a year.
            usual = beat * longest_usual_run(-(-past // beat), int(past.sum()) * (step / YEAR))
            here = slice(*np.searchsorted(starts, [now, until]))
            allowed[here] = max(usual, fewest)
            news[here] = length[here] > allowed[here]
    return allowed


def _without_news(past: Ints, news: "np.ndarray[tuple[int], np.dtype[np.bool_]]") -> Ints:
    """Leave out runs that were news when they came: an analyser that stops again is no habit.

    As many as `MOST_NEWS` are: then the signal has become another.
    """
    return past[~news] if 0 < np.count_nonzero(news) <= MOST_NEWS else past


def _local_day(instant: datetime, zone: tzinfo) -> date:
    return instant.astimezone(zone).date()
