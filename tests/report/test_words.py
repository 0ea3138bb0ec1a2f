"""Words: what a number, a time and a share may never be read as."""

from datetime import UTC, date, datetime

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from pipeline.clock import zone_of
from pipeline.config.tags import Tag
from pipeline.report.words import (
    anchor,
    clock_word,
    day_word,
    days_word,
    duration,
    first_clause,
    lowered,
    number,
    percent,
    scale_of,
    stretch,
)

DENVER = zone_of("America/Denver")


def tag(resolution: float | None, unit: str = "NTU") -> Tag:
    return Tag(row=2, tag="AIT-1", area="a", measures="turbidity", unit=unit, resolution=resolution)


def spaced(text: str) -> str:
    return text.replace("\N{NO-BREAK SPACE}", " ")


def test_a_value_has_the_resolution_of_its_tag() -> None:
    assert spaced(scale_of(tag(0.001)).full(0.0712)) == "0.071 NTU"
    assert spaced(scale_of(tag(1, "gpm")).full(241.3)) == "241 gpm"
    assert spaced(scale_of(tag(0.056, "degC")).full(7.777)) == "7.78 °C"
    assert spaced(scale_of(tag(0.01, "pH")).full(7.456)) == "pH 7.46"


def test_in_another_unit_three_digits_are_shown() -> None:
    assert spaced(scale_of(tag(0.001, "MGD"), "gpm").full(347.2222)) == "347 gpm"


def test_minus_is_a_minus_and_zero_has_no_sign() -> None:
    assert number(-0.21, 2) == "\N{MINUS SIGN}0.21"
    assert number(-0.001, 2) == "0.00"


@given(st.floats(0.2999, 0.3001), st.sampled_from([0.001, 0.01, 0.1, None]))
def test_a_value_beyond_a_limit_never_looks_like_the_limit(value: float, resolution: float | None) -> None:
    shown = scale_of(tag(resolution)).beside(value, (None, 0.3)).split("\N{NO-BREAK SPACE}")[0]
    if abs(value - 0.3) > 1e-6:
        assert float(shown) != 0.3
        assert (float(shown) > 0.3) == (value > 0.3)


@given(st.text(), st.text())
def test_anchors_of_different_texts_differ_and_are_plain(one: str, other: str) -> None:
    assert (anchor(one) == anchor(other)) == (one == other)
    assert all(letter.isascii() and (letter.isalnum() or letter in "._-") for letter in anchor(one))


@given(st.floats(0, 100))
@example(99.6)
@example(100.0)
def test_a_share_is_never_rounded_up_to_all(share: float) -> None:
    assert (spaced(percent(share)) == "100 %") == (share > 100 - 1e-8)
    assert (spaced(percent(share, 1)) == "100.0 %") == (share > 100 - 1e-9)


@pytest.mark.parametrize(
    ("minutes", "text"),
    [
        (0, "0 min"),
        (0.4, "under 1 min"),
        (45, "45 min"),
        (105, "1 h 45 min"),
        (300, "5 h"),
        (1440, "1 d"),
        (3060, "2 d 3 h"),
    ],
)
def test_durations_read_as_people_say_them(minutes: float, text: str) -> None:
    assert spaced(duration(minutes)) == text


def test_the_repeated_hour_names_its_zone() -> None:
    # 15 U.S.C. 260a: daylight saving ends at 2 a.m. on the first Sunday of November, here 1 Nov 2026.
    assert clock_word(datetime(2026, 11, 1, 7, 30, tzinfo=UTC), DENVER) == "01:30 MDT"
    assert clock_word(datetime(2026, 11, 1, 8, 30, tzinfo=UTC), DENVER) == "01:30 MST"
    assert clock_word(datetime(2026, 11, 1, 9, 30, tzinfo=UTC), DENVER) == "02:30"


def test_weekdays_are_right() -> None:
    # The calendar: 11 November 2026 is a Wednesday, ISO 8601 week 46.
    assert spaced(day_word(date(2026, 11, 11))) == "Wed 11 Nov"
    assert date(2026, 11, 11).isocalendar().week == 46


def test_stretches_name_a_day_once() -> None:
    start = datetime(2026, 11, 11, 9, 10, tzinfo=UTC)
    assert spaced(stretch(start, start.replace(hour=14), DENVER)) == "Wed 11 Nov 02:10–07:10"
    late = stretch(start, datetime(2026, 11, 13, 19, 0, tzinfo=UTC), DENVER)
    assert spaced(late) == "Wed 11 Nov 02:10 – Fri 13 Nov 12:00"
    midnight = stretch(datetime(2026, 11, 12, 7, tzinfo=UTC), datetime(2026, 11, 13, 7, tzinfo=UTC), DENVER)
    assert spaced(midnight) == "Thu 12 Nov 00:00–24:00"


def test_a_period_is_named_by_its_days() -> None:
    assert spaced(days_word(datetime(2026, 11, 9), datetime(2026, 11, 16))) == "Mon 9 Nov – Sun 15 Nov 2026"
    assert (
        spaced(days_word(datetime(2025, 12, 29), datetime(2026, 1, 5))) == "Mon 29 Dec 2025 – Sun 4 Jan 2026"
    )
    assert spaced(days_word(datetime(2026, 11, 9), datetime(2026, 11, 10))) == "Mon 9 Nov 2026"


def test_a_first_clause_does_not_end_inside_a_number() -> None:
    assert first_clause("Reads 0.21 mg/L below; 8 grabs.") == "Reads 0.21 mg/L below"
    assert lowered("Reads low") == "reads low"
    assert lowered("AIT-1 reads low") == "AIT-1 reads low"
