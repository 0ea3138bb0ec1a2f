"""Contrast: against its formula by numpy, row by row, and causal."""

from datetime import UTC, datetime, timedelta

import numpy as np
import polars as pl
import pytest

from benchmarks.contrast import LIMIT, alarms, contrast, contrasts, joint

MINUTE = timedelta(minutes=1)
DAY = 1440
START = datetime(2026, 1, 5, tzinfo=UTC)


def grid(**tags: np.ndarray) -> pl.DataFrame:
    n = len(next(iter(tags.values())))
    time = pl.datetime_range(START, START + (n - 1) * MINUTE, "1m", eager=True).alias("time")
    return pl.DataFrame([time, *(pl.Series(name, values).fill_nan(None) for name, values in tags.items())])


def noise(seed: int, days: int = 3, sd: float = 1.0) -> np.ndarray:
    return np.random.default_rng(seed).normal(0.0, sd, days * DAY)


def one(values: np.ndarray, resolution: float = 0.0) -> np.ndarray:
    return grid(a=values).select(contrast(pl.col("a"), resolution, MINUTE))["a"].to_numpy()


def test_the_formula_row_by_row() -> None:
    """Median of five minutes less mean of the two hours before them, by the 90 % quantile of its past."""
    values = noise(1, days=2)
    found = one(values)
    moves = np.full(len(values), np.nan)
    for row in range(34, len(values)):  # a quarter of the two hours, and five minutes
        moves[row] = np.median(values[row - 4 : row + 1]) - values[max(row - 124, 0) : row - 4].mean()
    for row in (1600, 2000, 2879):
        usual = np.nanquantile(np.abs(moves[: row + 1]), 0.9)
        assert found[row] == pytest.approx(moves[row] / usual, rel=1e-9)


def test_nothing_is_said_before_a_day_is_known() -> None:
    found = one(noise(2, days=2))
    assert np.isnan(found[: DAY - 1]).all()
    assert np.isfinite(found[DAY + 60 :]).all()


def test_what_comes_later_changes_nothing() -> None:
    values = noise(3)
    values[2 * DAY + 300 : 2 * DAY + 320] += 8.0
    whole = grid(a=values, b=noise(4))
    score = joint(contrasts(whole, {"a": 0.01, "b": 0.01}, MINUTE))
    cut = 2 * DAY + 310
    early = joint(contrasts(whole[:cut], {"a": 0.01, "b": 0.01}, MINUTE))
    assert early.equals(score[:cut])


def test_rounding_alone_is_no_move() -> None:
    """A tag that rests on one step of its display and flickers to the next: half a step is no contrast."""
    values = np.full(3 * DAY, 7.0)
    values[-60:] += 0.1
    assert one(values, resolution=0.1)[-58] == pytest.approx(2.0)  # one step = two halves
    # With nothing known of the resolution, and nothing ever moved, there is no measure.
    assert np.isnan(one(np.full(3 * DAY, 7.0))).all()


def test_one_wild_reading_is_outvoted() -> None:
    values = noise(5)
    values[2 * DAY] += 1000.0
    quiet = one(noise(5))
    around = slice(2 * DAY, 2 * DAY + 4)
    assert np.abs(one(values)[around] - quiet[around]).max() < 2.0


def test_a_gap_is_not_said_anything_of_and_not_an_event() -> None:
    values = noise(6)
    values[2 * DAY : 2 * DAY + 200] = np.nan
    found = one(values)
    # Three of the five minutes must be known.
    assert np.isnan(found[2 * DAY + 2 : 2 * DAY + 202]).all()
    assert np.nanmax(np.abs(found[2 * DAY + 200 : 2 * DAY + 400])) < LIMIT


def test_small_moves_of_many_tags_at_once_are_an_event_where_each_alone_is_none() -> None:
    tags = {name: noise(seed) for seed, name in enumerate("abcd", 10)}
    event = slice(2 * DAY + 600, 2 * DAY + 620)
    for values in tags.values():
        values[event] += 3.7
    moves = contrasts(grid(**tags), dict.fromkeys(tags, 0.01), MINUTE)
    score = joint(moves)
    alone = max(moves[name][event].abs().max() for name in tags)
    assert alone < LIMIT < score[event].max()
    # Root of the sum of squares, by numpy.
    squares = np.nansum(moves.drop("time").to_numpy() ** 2, axis=1)
    assert score[event].to_numpy() == pytest.approx(np.sqrt(squares)[event])


def test_quiet_days_raise_no_alarm() -> None:
    tags = {name: noise(seed, days=14) for seed, name in enumerate("abcdefg", 20)}
    table = grid(**tags)
    score = joint(contrasts(table, dict.fromkeys(tags, 0.01), MINUTE))
    assert alarms(table["time"], score).height == 0


def test_alarms_near_one_another_are_one() -> None:
    time = grid(a=np.zeros(300))["time"]
    score = pl.Series(np.zeros(300))
    score[[10, 11, 60, 200]] = [7.0, 9.0, 8.0, 7.5]
    found = alarms(time, score)
    assert found["start"].to_list() == [time[10], time[200]]
    assert found["end"].to_list() == [time[60], time[200]]
    assert found["peak"].to_list() == [9.0, 7.5]
    assert found["peak_at"].to_list() == [time[11], time[200]]


def test_a_coarse_record_has_windows_of_readings() -> None:
    """At 15 minutes the five-minute window is three readings: a single one still moves nothing."""
    values = noise(7, days=1)
    values[1000] += 1000.0
    step = timedelta(minutes=15)
    found = pl.DataFrame({"a": values}).select(contrast(pl.col("a"), 0.0, step))["a"]
    assert abs(found[1000]) < LIMIT
