"""Cells read where they lie: numbers as Python reads them, texts as a plain split of the line gives them."""

import math

import numpy as np
import polars as pl
from hypothesis import given
from hypothesis import strategies as st

from pipeline.ingest.cells import Cut, Uncut
from pipeline.ingest.head import head_of
from pipeline.ingest.sheet import Sheet

HEADER = "Time,A,B\n"
CELL = st.one_of(
    st.sampled_from(
        ["", "Bad", "<0.05", "1e5", "-0", ".5", "5.", "inf", "nan", "1_0", "0x1", "007.50", "--", "+3"]
    ),
    st.floats(allow_nan=False, allow_infinity=False).map(repr),
    st.decimals(-1000, 1000, places=3).map(str),
    st.text("0123456789.+-eE", max_size=8),
)
LINE = st.one_of(
    st.tuples(st.sampled_from(["1", "2", "Time", "x", ""]), CELL, CELL).map(",".join),
    st.sampled_from(["", "7", "7,", "7,8", "Time,A,B", "Average,1,2"]),
)


def _read(body: str) -> tuple[pl.DataFrame, pl.DataFrame, Uncut | Cut]:
    read = Sheet("x", (HEADER + body).encode(), head_of(HEADER + "1,2,3")).read([1, 2])
    others = read.others.with_columns(pl.col("c1", "c2").cast(pl.Float64, strict=False))
    return pl.concat([read.cells, others]).sort("line"), read.refused, read.texts


@given(st.lists(LINE, min_size=1, max_size=60))
def test_every_line_comes_out_as_it_stands(lines: list[str]) -> None:
    cells, refused, texts = _read("\n".join(lines) + "\n")
    whole = {number: line.split(",") for number, line in enumerate(lines, 2)}
    assert cells["line"].to_list() == [line for line, found in whole.items() if len(found) == 3]
    short = [line for line, found in whole.items() if len(found) < 3 and any(found)]
    assert refused["line"].to_list() == short
    for column in (1, 2):
        found = texts.texts(np.full(cells.height, column), cells["line"])
        assert found.to_list() == [whole[line][column] for line in cells["line"]]
        for text, number in zip(found, cells[f"c{column}"], strict=True):
            _is_as_python_reads(text, number)


def _is_as_python_reads(text: str, number: float | None) -> None:
    """Python reads no less: what it does not read, or reads with blanks or marks of its own, is no number."""
    try:
        expected = float(text)
    except ValueError:
        expected = None
    if number is not None:
        assert expected is not None
        assert (
            math.isnan(number)
            if math.isnan(expected)
            else math.copysign(1, number) == math.copysign(1, expected)
        )
        assert math.isnan(number) or number == expected
    elif expected is not None:
        assert not text.isascii() or "_" in text


def test_a_line_that_is_too_long_costs_itself_alone() -> None:
    cells, refused, _ = _read("1,2,3\n4,5,6,7\n8,9,10\n")
    assert cells["line"].to_list() == [2, 4]
    assert refused["line"].to_list() == [3]


def test_blanks_around_numbers_are_no_part_of_them() -> None:
    cells, refused, texts = _read("1, 2 ,3\n4,5,\n\n6,7\n")
    assert cells.rows() == [("1", 2.0, 3.0, 2), ("4", 5.0, None, 3)]
    assert refused["line"].to_list() == [5]
    assert texts.texts(np.array([1, 1]), pl.Series([2, 3], dtype=pl.UInt32)).to_list() == ["2", "5"]


def test_a_short_line_among_many() -> None:
    lines = [f"{row},{row}.5,{row}" for row in range(200)]
    lines[50], lines[60], lines[199] = "50,50.5,", "60,60.5", "199"
    cells, refused, _ = _read("\n".join(lines))
    assert refused["line"].to_list() == [62, 201]
    assert cells.filter(line=52).rows() == [("50", 50.5, None, 52)]
    assert cells.height == 198
