"""Units: against the handbook's conversions and the exact definitions behind them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.units import conversion, is_known, spelling


# Formula and conversion table of the operator certification exams (water treatment and distribution, 2014):
# rounded to three or four digits there, hence 0.5 %.
@pytest.mark.parametrize(
    ("amount", "source", "target", "handbook"),
    [
        (1, "MGD", "gpm", 694.4),
        (1, "MGD", "cfs", 1.547),
        (1, "cfs", "gpm", 448.8),
        (1, "gal", "L", 3.785),
        (1, "psi", "ftH2O", 2.307),
        (1, "ftH2O", "psi", 0.4335),
        (1, "ft", "in", 12),
        (1, "in", "cm", 2.54),
        (1, "MG", "gal", 1_000_000),
        (1, "lb", "kg", 0.4536),
        (1, "mg/L", "ug/L", 1000),
        (1, "mS/cm", "uS/cm", 1000),
        (1, "gpm", "gpd", 1440),
        (60, "gph", "gpm", 1),
    ],
)
def test_handbook(amount: float, source: str, target: str, handbook: float) -> None:
    factor, offset = conversion(source, target)
    assert amount * factor + offset == pytest.approx(handbook, rel=0.005)


# NIST Special Publication 811, appendix B: a US gallon is 3.785 411 784 L and a foot 0.3048 m, both exact.
@pytest.mark.parametrize(
    ("source", "target", "factor"),
    [("gal", "L", 3.785411784), ("ft", "m", 0.3048), ("MGD", "gpm", 1e6 / 1440), ("lb", "kg", 0.45359237)],
)
def test_exact_definitions(source: str, target: str, factor: float) -> None:
    assert conversion(source, target) == pytest.approx((factor, 0.0), rel=1e-12)


# Fixed points of the Fahrenheit scale (NIST SP 811, B.8): 32 F = 0 C, 212 F = 100 C; the scales meet at -40.
@pytest.mark.parametrize(("fahrenheit", "celsius"), [(32, 0), (212, 100), (-40, -40), (50, 10), (68, 20)])
def test_temperature(fahrenheit: float, celsius: float) -> None:
    factor, offset = conversion("degF", "degC")
    assert fahrenheit * factor + offset == pytest.approx(celsius, abs=1e-9)
    factor, offset = conversion("degC", "degF")
    assert celsius * factor + offset == pytest.approx(fahrenheit, abs=1e-9)


@pytest.mark.parametrize(
    ("source", "target"),
    [("pH", "mg/L"), ("NTU", "mg/L"), ("gpm", "psi"), ("rpm", "Hz"), ("%", "mg/L"), ("mg/L", "?")],
)
def test_different_things_do_not_convert(source: str, target: str) -> None:
    with pytest.raises(ValueError, match="does not convert"):
        conversion(source, target)


def test_a_unit_converts_to_itself_untouched() -> None:
    for unit in ("pH", "NTU", "", "%", "rpm", "degF"):
        assert conversion(unit, unit) == (1.0, 0.0)
    assert conversion("FNU", "NTU") == (1.0, 0.0)


def test_other_writings() -> None:
    assert [spelling(text) for text in (" °C ", "µS/cm", "m³/h")] == ["degC", "uS/cm", "m3/h"]
    assert is_known("µg/L")
    assert not is_known("furlongs per wish")


@given(st.floats(-1e6, 1e6), st.sampled_from([("degF", "degC"), ("MGD", "gpm"), ("psi", "kPa"), ("ft", "m")]))
def test_there_and_back_again(amount: float, pair: tuple[str, str]) -> None:
    factor, offset = conversion(*pair)
    back, back_offset = conversion(*reversed(pair))
    assert (amount * factor + offset) * back + back_offset == pytest.approx(amount, rel=1e-9, abs=1e-9)
