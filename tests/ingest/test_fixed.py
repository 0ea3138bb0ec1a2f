"""Times of fixed width, held against Python's own strptime."""

from datetime import datetime, timedelta

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.ingest.fixed import read_fixed
from pipeline.ingest.forms import ISO_FORMS, LOCAL_FORMS

FORMS = ["%m/%d/%Y %I:%M:%S %p", "%d.%m.%Y %H:%M", "%Y-%m-%dT%H:%M:%S", "%Y%m%d %H%M%S", "%Y-%m-%d"]
STARTS = st.datetimes(datetime(1970, 1, 1), datetime(2199, 1, 1)).map(
    lambda when: when.replace(microsecond=0)
)


def _expected(texts: list[str], form: str) -> list[datetime] | None:
    try:
        return [datetime.strptime(text, form) for text in texts]
    except ValueError:
        return None


@given(st.sampled_from(FORMS), STARTS, st.integers(1, 200_000))
def test_times_are_those_of_strptime(form: str, start: datetime, step_s: int) -> None:
    texts = [(start + timedelta(seconds=step_s * row)).strftime(form) for row in range(50)]
    found = read_fixed(pl.Series(texts), form)
    assert found is not None
    assert found.to_list() == _expected(texts, form)


@given(
    st.sampled_from(FORMS),
    STARTS,
    st.integers(0, 49),
    st.integers(0, 21),
    st.sampled_from("0123456789/:- apAPMx"),
)
def test_one_slip_of_the_pen_is_no_time_here_if_it_is_none_for_strptime(
    form: str, start: datetime, row: int, place: int, sign: str
) -> None:
    texts = [(start + timedelta(minutes=row)).strftime(form) for row in range(50)]
    place = min(place, len(texts[row]) - 1)
    texts[row] = texts[row][:place] + sign + texts[row][place + 1 :]
    found, expected = read_fixed(pl.Series(texts), form), _expected(texts, form)
    assert found is None or found.to_list() == expected


@pytest.mark.parametrize(
    "text",
    [
        *("02/29/2026 12:00:00 AM", "13/01/2026 12:00:00 AM", "01/00/2026 12:00:00 AM"),
        *("01/01/2026 00:00:00 AM", "01/01/2026 13:00:00 AM", "01/01/2026 12:60:00 AM"),
        *("01/01/2026 12:00:00 XM", "1/01/2026 12:00:00 AM", "01/01/2026 12:00:00 AM "),
        *("01-01-2026 12:00:00 AM", "", None),
    ],
)
def test_what_is_on_no_calendar_or_clock_is_left_to_the_slow_way(text: str | None) -> None:
    texts = ["03/10/2026 12:00:00 AM"] * 40
    assert read_fixed(pl.Series(texts), FORMS[0]) is not None
    assert read_fixed(pl.Series([*texts, text], dtype=pl.String), FORMS[0]) is None


def test_a_fraction_that_a_form_allows_may_be_missing() -> None:
    form = next(form for form in ISO_FORMS if "%.f" in form)
    texts = pl.Series(["2026-03-10T04:05:06"] * 40)
    assert read_fixed(texts, form) is not None
    assert read_fixed(texts.scatter(7, "2026-03-10T04:05:06.5"), form) is None


@pytest.mark.parametrize("form", [form for form in LOCAL_FORMS["day_first"] if "%y" in form])
def test_years_of_two_digits_are_left_to_the_slow_way(form: str) -> None:
    assert read_fixed(pl.Series(["01/02/26 12:00"] * 40), form) is None
