"""Merging: against a plain loop over the rows, and the promises made to people."""

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.archive.months import SUPERSEDED, TALLY, merge, take_back
from pipeline.table import LONG, empty

START = datetime(2026, 3, 1, tzinfo=ZoneInfo("UTC"))
Row = tuple[str, datetime, float | None, str, str | None, str]


def _frame(rows: list[Row]) -> pl.DataFrame:
    return pl.DataFrame(rows, LONG, orient="row")


def _row(
    tag: str, minute: int, value: float | None, source: str, quality: str = "good", raw: str | None = None
) -> Row:
    return tag, START + timedelta(minutes=minute), value, quality, raw, source


contents = st.sampled_from(
    [(1.0, "good", None), (2.0, "good", None), (2.0, "bad", None), (None, "bad", "Bad")]
)


def deliveries(sources: str) -> st.SearchStrategy[list[Row]]:
    """Rows of several deliveries, one after the other, crowded onto few tags and instants."""
    one = st.tuples(st.sampled_from("AB"), st.integers(0, 3), contents)
    return st.tuples(*(st.lists(one, max_size=8) for _ in sources)).map(
        lambda lists: [
            (tag, START + timedelta(minutes=minute), *content, source)
            for source, rows in zip(sources, lists, strict=True)
            for tag, minute, content in rows
        ]
    )


def _by_hand(
    stored: list[Row], incoming: list[Row]
) -> tuple[list[Row], list[tuple[object, ...]], dict[str, list[int]]]:
    """What `merge` promises, one row at a time."""
    standing = {row[:2]: row for row in stored}
    displaced: list[tuple[object, ...]] = []
    counts: dict[str, list[int]] = {}
    for row in incoming:
        tally = counts.setdefault(row[5], [0, 0, 0])
        before = standing.get(row[:2])
        if before is not None and before[2:5] == row[2:5]:
            tally[1] += 1
            continue
        tally[2 if before else 0] += 1
        if before:
            displaced.append((*before, row[5]))
        standing[row[:2]] = row
    return [standing[key] for key in sorted(standing)], displaced, counts


@given(deliveries("xyz"))
def test_merge_is_the_plain_loop(rows: list[Row]) -> None:
    stored = _by_hand([], [row for row in rows if row[5] == "x"])[0]
    incoming = [row for row in rows if row[5] != "x"]
    merged = merge(_frame(stored), _frame(incoming))
    standing, displaced, counts = _by_hand(stored, incoming)
    assert merged.month.schema == pl.Schema(LONG)
    assert merged.superseded.schema == pl.Schema(SUPERSEDED)
    assert merged.tally.schema == pl.Schema(TALLY)
    assert merged.month.rows() == standing
    assert sorted(map(repr, merged.superseded.rows())) == sorted(map(repr, displaced))
    assert {source: list(tally) for source, *tally in merged.tally.rows()} == counts


@given(deliveries("xy"))
def test_a_second_delivery_of_what_stands_changes_nothing(rows: list[Row]) -> None:
    month = merge(empty(LONG), _frame(rows)).month
    again = merge(month, month.with_columns(source=pl.lit("z")))
    assert again.month.equals(month)
    assert again.superseded.is_empty()
    assert again.tally.select("stored", "superseded").sum().row(0) == (0, 0)


@given(deliveries("xyz"))
def test_every_row_is_counted_once(rows: list[Row]) -> None:
    tally = merge(empty(LONG), _frame(rows)).tally
    expected = {source: sum(row[5] == source for row in rows) for source in "xyz"}
    found = dict(tally.select("source", pl.sum_horizontal("stored", "known", "superseded")).iter_rows())
    assert found == {source: count for source, count in expected.items() if count}


@given(deliveries("xy"))
def test_deliveries_that_share_nothing_may_come_in_any_order(rows: list[Row]) -> None:
    first = [row for row in rows if row[5] == "x"]
    second = [("C" + row[0], *row[1:]) for row in rows if row[5] == "y"]
    one = merge(merge(empty(LONG), _frame(first)).month, _frame(second))  # type: ignore[arg-type]
    other = merge(merge(empty(LONG), _frame(second)).month, _frame(first))  # type: ignore[arg-type]
    assert one.month.equals(other.month)


@given(deliveries("xyz"))
def test_what_unfinished_deliveries_displaced_is_restored(rows: list[Row]) -> None:
    before = merge(empty(LONG), _frame([row for row in rows if row[5] == "x"])).month
    after = merge(before, _frame([row for row in rows if row[5] != "x"]))
    assert take_back(after.month, after.superseded, {"y", "z"}).equals(before)
    # The run may have been cut short before the month was swapped.
    assert take_back(before, after.superseded, {"y", "z"}).equals(before)


@given(deliveries("xyz"))
def test_of_two_deliveries_only_the_unfinished_one_is_taken_back(rows: list[Row]) -> None:
    frames = [_frame([row for row in rows if row[5] == source]) for source in "xyz"]
    finished = merge(merge(empty(LONG), frames[0]).month, frames[1]).month
    both = merge(merge(empty(LONG), frames[0]).month, pl.concat(frames[1:]))
    assert take_back(both.month, both.superseded.filter(displaced_by="z"), {"z"}).equals(finished)


def test_the_newest_delivery_stands_and_the_old_row_is_kept() -> None:
    merged = merge(_frame([_row("A", 0, 1.0, "x")]), _frame([_row("A", 0, 2.0, "y"), _row("A", 0, 3.0, "y")]))
    assert merged.month["value"].to_list() == [3.0]
    assert merged.superseded.select("value", "source", "displaced_by").rows() == [
        (1.0, "x", "y"),
        (2.0, "y", "y"),
    ]
    assert merged.tally.rows() == [("y", 0, 0, 2)]


@pytest.mark.parametrize(
    "other", [_row("A", 0, 1.0, "y", "uncertain"), _row("A", 0, 1.0, "y", raw="1,0"), _row("A", 0, None, "y")]
)
def test_another_quality_raw_text_or_no_number_is_a_difference(other: Row) -> None:
    assert merge(_frame([_row("A", 0, 1.0, "x")]), _frame([other])).tally.rows() == [("y", 0, 0, 1)]


def test_many_tags_over_many_years_are_sorted_too() -> None:
    # 5,000 tags times a century of microseconds is more than 63 bits hold.
    years = [START.replace(year=year) for year in (2070, 1975)]
    rows = _frame(
        [(f"T{tag:04d}", time, 1.0, "good", None, "x") for tag in range(5000, 0, -1) for time in years]
    )
    assert merge(empty(LONG), rows).month.equals(rows.sort("tag", "time"))
