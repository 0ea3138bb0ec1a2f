"""A load that comes alone is what a dictionary of its readings, sorted by time, holds."""

import numpy as np
import polars as pl
from hypothesis import given
from hypothesis import strategies as st

from pipeline.archive.load import Load, Run, Said, Times
from pipeline.table import QUALITIES

READING = st.tuples(
    st.integers(0, 40),
    st.one_of(st.none(), st.floats(-9, 9)),
    st.sampled_from(range(len(QUALITIES))),
    st.one_of(st.none(), st.sampled_from(["Bad", "<0.05"])),
)


def _run(rows: list[tuple[int, float | None, int, str | None]], plain: bool) -> Run:
    time = np.array([row[0] for row in rows], np.int64)
    if plain:
        return Run(time, np.array([np.nan if row[1] is None else row[1] for row in rows]))
    value = np.array([np.nan if row[1] is None else row[1] for row in rows])
    texts = pl.Series("raw", [row[3] for row in rows], pl.String)
    return Run(time, value, Said(np.array([row[2] for row in rows], np.uint8), texts))


@given(st.lists(st.tuples(st.lists(READING, min_size=1, max_size=6), st.booleans()), min_size=1, max_size=5))
def test_readings_of_one_delivery_in_the_order_of_time(
    runs: list[tuple[list[tuple[int, float | None, int, str | None]], bool]],
) -> None:
    load, expected, count = Load(), {}, 0
    for rows, plain in runs:
        load.add("s", _run(rows, plain))
        rows = [row for row in rows if not plain or row[1] is not None]
        count += len(rows)
        for time, value, quality, raw in rows:
            expected[time] = (value, 0, None) if plain else (value, quality, raw)
    alone = load.alone()
    if len(expected) < count:
        assert alone is None, "an instant that comes twice is for the merge to judge"
        assert load.rows("A").height == count
        return
    assert alone is not None
    assert alone.time.tolist() == sorted(expected)
    said = dict.fromkeys(range(count), (0, None))
    if alone.said:
        said |= dict(
            zip(
                alone.odd.tolist(), zip(alone.said.quality.tolist(), alone.said.raw, strict=True), strict=True
            )
        )
    values = [None if np.isnan(value) else value for value in alone.value.tolist()]
    assert [(value, *said[row]) for row, value in enumerate(values)] == [
        expected[time] for time in sorted(expected)
    ]


def test_two_deliveries_are_for_the_merge() -> None:
    load = Load()
    load.add("s", Run(np.array([1]), np.array([1.0])))
    load.add("t", Run(np.array([2]), np.array([1.0])))
    assert load.alone() is None


def test_what_stands_in_gaps_of_the_plain_readings_is_put_there() -> None:
    load = Load()
    load.add("s", Run(np.arange(6), np.array([0.5, np.nan, 2.5, np.nan, np.nan, 5.5])))
    texts = pl.Series("raw", ["<0.05", "Bad"], pl.String)
    load.add("s", Run(np.array([4, 1]), np.array([0.05, np.nan]), Said(np.array([1, 2], np.uint8), texts)))
    alone = load.alone()
    assert alone is not None and alone.said is not None
    assert alone.time.tolist() == [0, 1, 2, 4, 5]
    np.testing.assert_equal(alone.value, [0.5, np.nan, 2.5, 0.05, 5.5])
    assert alone.odd.tolist() == [1, 3]
    assert alone.said.raw.to_list() == ["Bad", "<0.05"]


def test_tags_of_the_same_times_share_them() -> None:
    times, time = Times(), np.arange(3)
    found = []
    for value in ([1.0, 2.0, 3.0], [1.0, np.nan, 3.0], [3.0, 2.0, 1.0]):
        load = Load(times)
        load.add("s", Run(time, np.array(value)))
        found.append(load.alone())
    first, second, third = found
    assert first is not None and second is not None and third is not None
    assert first.time is third.time
    assert second.time.tolist() == [0, 2]
