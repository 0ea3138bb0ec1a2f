"""Values as written: numbers, states, limits, sentinels, and words for no number."""

import math

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.config.tags import Tag
from pipeline.ingest.values import NO_NUMBER, Mark, read_values

TAG = Tag(row=2, tag="AIT-1", area="a", measures="chlorine", sentinels=(-99.0, 9999.0))
PUMP = Tag(row=3, tag="YS-1", area="a", measures="state", states={"off": 0.0, "on": 1.0})


def _read(text: str, tag: Tag = TAG, mark: Mark = ".") -> tuple[float | None, str | None, bool, str | None]:
    frame = read_values(pl.Series([text]), pl.Series([0], dtype=pl.UInt32), [tag], mark)
    row: tuple[float | None, str | None, bool, str | None] = frame.row(0)
    return row


@pytest.mark.parametrize(
    ("text", "number"),
    [("7.2", 7.2), ("-0.5", -0.5), ("+5", 5), (".5", 0.5), ("5.", 5), ("1e3", 1000), ("1.2E-3", 0.0012)],
)
def test_plain_numbers(text: str, number: float) -> None:
    assert _read(text) == (number, None, True, None)


@pytest.mark.parametrize(
    ("text", "mark", "number"),
    [
        ("1,234.5", ".", 1234.5),
        ("12,345,678", ".", 12345678),
        ("1,5", ",", 1.5),
        ("1.234,5", ",", 1234.5),
        ("1.234", ",", 1234),
        ("-0,5", ",", -0.5),
        ("1 234.5", ".", 1234.5),
        ("1\u00a0234,5", ",", 1234.5),
        ("1\u202f234\u202f567", ",", 1234567),
        ("1'234.5", ".", 1234.5),
    ],
)
def test_decimal_marks_and_thousands(text: str, mark: Mark, number: float) -> None:
    assert _read(text, mark=mark)[0] == number
    assert _read(text, mark=mark)[3] is None


@pytest.mark.parametrize(
    ("text", "mark"),
    [("0,021", "."), ("0.021", ","), ("1,5", "."), ("1.5", ","), ("12,34.5", "."), ("1.2.3", ".")],
)
def test_another_decimal_mark_is_refused_not_guessed(text: str, mark: Mark) -> None:
    number, _, _, reason = _read(text, mark=mark)
    assert number is None
    assert reason is not None and text in reason


def _decided(*texts: str) -> list[float | None]:
    frame = read_values(pl.Series(texts), pl.Series([0] * len(texts), dtype=pl.UInt32), [PUMP], None)
    return frame["number"].to_list()


@pytest.mark.parametrize(
    ("texts", "numbers"),
    [
        (("7.2", "1,234.5"), [7.2, 1234.5]),
        (("7,2", "1.234,5", "1.234"), [7.2, 1234.5, 1234]),
        (("<0,02", "1,234"), [0.02, 1.234]),
        (("0.5", "1,234"), [0.5, 1234]),
        (("1,234", "2,345"), [None, None]),
        (("7,2", "0.021", "1,234"), [None, 0.021, None]),
        (("1.234", "5"), [1.234, 5]),
    ],
)
def test_a_file_tells_its_decimal_mark_or_what_is_doubtful_is_refused(
    texts: tuple[str, ...], numbers: list[float | None]
) -> None:
    assert _decided(*texts) == numbers


@pytest.mark.parametrize("text", ["NaN", "nan", "inf", "-Inf", "Infinity", "1.#QNAN", "1.#INF", "-1.#IND"])
def test_what_ieee_754_has_beside_numbers_never_becomes_one(text: str) -> None:
    assert _read(text) == (None, "bad", False, None)


def test_a_number_too_large_for_a_double_is_none() -> None:
    # IEEE 754: the largest double is about 1.8e308.
    assert _read("1e400")[0] is None
    assert _read("1e400")[3] is not None


@pytest.mark.parametrize("text", sorted(NO_NUMBER))
def test_words_for_no_number_are_bad_and_kept(text: str) -> None:
    assert _read(text.upper()) == (None, "bad", False, None)


def test_a_detection_limit_stands_as_its_number_uncertain() -> None:
    assert _read("<0.02") == (0.02, "uncertain", False, None)
    assert _read("> 4") == (4.0, "uncertain", False, None)
    assert _read("<low")[3] is not None


def test_sentinels_are_the_tags_own() -> None:
    assert _read("-99") == (None, "bad", False, None)
    assert _read("9999.0") == (None, "bad", False, None)
    assert _read("-99", PUMP)[0] == -99
    both = read_values(
        pl.Series(["-99", "-99", "5"]), pl.Series([0, 1, 0], dtype=pl.UInt32), [TAG, PUMP], "."
    )
    assert both["number"].to_list() == [None, -99, 5]


def test_states_are_words_of_the_tag() -> None:
    assert _read("ON", PUMP) == (1.0, "good", False, None)
    assert _read("0", PUMP) == (0.0, None, True, None)
    assert _read("TRUE", PUMP) == (1.0, "good", False, None)
    assert _read("true", TAG)[3] == "'true' is not a number"
    assert _read("Auto", PUMP)[3] == "'Auto' is neither a number nor a state of YS-1 in config/tags.csv"
    assert _read("On", TAG)[3] == "'On' is not a number"


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_every_double_comes_back_as_it_was_written(number: float) -> None:
    found = _read(repr(number), PUMP)[0]
    assert found == number and found is not None and math.copysign(1, found) == math.copysign(1, number)


@given(st.text(max_size=12))
def test_any_text_is_a_number_no_number_or_refused(text: str) -> None:
    number, quality, plain, reason = _read(text)
    assert number is None or math.isfinite(number)
    assert sum([number is not None, reason is not None, number is None and quality == "bad"]) == 1
    assert not (plain and number is None)
