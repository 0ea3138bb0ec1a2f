"""Units as headers write them; the spellings are those of the trade (common practice, no source)."""

import pytest

from pipeline.setup.unit import unit, without_unit


@pytest.mark.parametrize(
    ("header", "said"),
    [
        ("Raw flow (MGD)", "MGD"),
        ("FIT-101 [gpm]", "gpm"),
        ("Turbidity, NTU", "NTU"),
        ("discharge_cfs", "cfs"),
        ("DO_mgl", "mg/L"),
        ("DO_Pct", "%"),
        ("Temp (°C)", "degC"),
        ("Temp (deg F)", "degF"),
        ("Cond (µS/cm)", "uS/cm"),
        ("Pressure (psig)", "psi"),
        ("Tank 3 (north) level (ft)", "ft"),
    ],
)
def test_headers_that_say_it(header, said):
    guess = unit(header, "flow", "")
    assert guess.value == said
    assert guess.evidence.startswith("the export says")


@pytest.mark.parametrize("header", ["Raw flow", "Filter 1 (north)", "Well_c", "Depth", "Turb"])
def test_nothing_is_made_up(header):
    guess = unit(header, "flow", "")
    assert guess.value == "1"
    assert guess.evidence.endswith("fill it in")


def test_a_unit_row_goes_before_the_header():
    assert unit("Flow", "flow", "L/s").value == "L/s"


def test_a_ph_has_one_unit_and_a_state_has_none():
    assert unit("Effluent pH", "ph", "").value == "pH"
    assert unit("Pump (gpm)", "state", "").value == "1"


def test_the_unit_is_no_part_of_the_name():
    assert without_unit("Raw flow (MGD)") == "Raw flow"
    assert without_unit("Filter 1 (north)") == "Filter 1 (north)"
    assert without_unit("Turbidity, NTU") == "Turbidity"


@pytest.mark.parametrize(
    ("header", "measure", "expected"),
    [
        ("DO mg/L", "dissolved_oxygen", "mg/L"),
        ("SpCond uS/cm", "conductivity", "uS/cm"),
        ("Temp C", "temperature", "degC"),
        ("Well C", "level", "1"),  # the third well
        ("In/Out", "flow", "1"),
    ],
)
def test_a_last_word_may_be_a_unit(header: str, measure: str, expected: str) -> None:
    """Common practice, no source."""
    assert unit(header, measure, "").value == expected
