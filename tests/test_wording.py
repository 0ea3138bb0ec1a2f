"""Wording: as people in the plant write numbers, times and spans."""

from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.wording import day_text, difference, digits, moment, number, span


@pytest.mark.parametrize(
    ("resolution", "places"),
    [(1.0, 0), (5.0, 0), (0.5, 1), (0.1, 1), (0.05, 2), (0.01, 2), (0.001, 3), (1e-6, 6)],
)
def test_digits_are_those_of_the_display(make, resolution, places):
    assert digits(make.tag(resolution=resolution)) == places
    assert digits(make.tag(resolution=None)) == 2


def test_numbers_carry_their_unit(make):
    assert number(make.tag(), 7.2) == "pH 7.20"
    assert number(make.tag(), 0.2, signed=True) == "+0.20"
    chlorine = make.tag(measures="chlorine", unit="mg/L")
    assert number(chlorine, 1.0) == "1.00 mg/L"
    assert number(chlorine, 1.0, extra=1) == "1.000 mg/L"
    assert number(make.tag(measures="state", unit="1"), 1.0) == "1.00"


def test_a_difference_of_two_ph_is_no_ph(make):
    """From 7.2 to 7.4 is a difference of 0.2, not a pH of 0.2 (pH is a logarithm: IUPAC Gold Book, pH)."""
    assert difference(make.tag(), 0.2) == "0.20"
    assert difference(make.tag(measures="chlorine", unit="mg/L"), 0.2) == "0.20 mg/L"


def test_minus_is_a_minus_sign(make):
    """Unicode 2212, which aligns with the plus sign; a hyphen breaks at the end of a line."""
    assert number(make.tag(measures="chlorine", unit="mg/L"), -0.5) == "\N{MINUS SIGN}0.50 mg/L"


@pytest.mark.parametrize("value", [-0.001, -0.0, -0.0049])
def test_nothing_is_not_less_than_nothing(make, value):
    assert number(make.tag(measures="chlorine", unit="mg/L"), value) == "0.00 mg/L"


@pytest.mark.parametrize(
    ("minutes", "text"),
    [
        (0, "0 min"),
        (45, "45 min"),
        (59.6, "1 h"),
        (60, "1 h"),
        (210, "3 h 30 min"),
        (1440, "1 d"),
        (52 * 60, "2 d 4 h"),
        (1440 + 59, "1 d 1 h"),
        (2879, "2 d"),
    ],
)
def test_spans(minutes, text):
    assert span(timedelta(minutes=minutes)) == text


@given(st.integers(0, 100_000))
def test_spans_are_off_by_no_more_than_they_leave_out(minutes):
    total = 0
    parts = span(timedelta(minutes=minutes)).split()
    for amount, unit in zip(parts[::2], parts[1::2], strict=True):
        total += int(amount) * {"d": 1440, "h": 60, "min": 1}[unit]
    assert abs(total - minutes) <= (30 if minutes >= 1440 else 0)


def test_moments_are_wall_clock(make):
    # 12 November 2026 is a Thursday; Denver is seven hours behind UTC then.
    instant = make.utc(2026, 11, 12, 21, 15)
    assert moment(instant, make.zone) == "Thu 12 Nov 14:15"
    assert day_text(make.utc(2026, 11, 12, 5), make.zone) == "11 Nov 2026"
