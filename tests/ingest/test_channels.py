"""Names and units in the export: converted where they agree with the config, refused where they do not."""

import polars as pl
import pytest

from pipeline.config.tags import Tag
from pipeline.ingest.channels import Channels, channel, unit_of

FLOW = Tag(row=2, tag="FIT-1", area="a", measures="flow", unit="MGD")
GPM = Tag(
    row=3, tag="FIT-2", export_name="Well flow", area="a", measures="flow", unit="MGD", export_unit="gpm"
)
TEMPERATURE = Tag(row=4, tag="TIT-1", area="a", measures="temperature", unit="degC")
BLOWER = Tag(row=5, tag="SI-1", export_name="Blower (A)", area="a", measures="speed", unit="rpm")
PH = Tag(row=6, tag="AIT-1", area="a", measures="ph", unit="pH")
PUMP = Tag(row=7, tag="YS-1", area="a", measures="state", states={"off": 0.0, "on": 1.0})
NAMES = {tag.name_in_export: tag for tag in (FLOW, GPM, TEMPERATURE, BLOWER, PH, PUMP)}


# NIST Handbook 44 (2024), appendix C: 1 US gallon = 3.785 411 784 L, so that 1 MGD = 43.812 636 388 9 L/s.
def test_a_unit_in_the_export_holds_where_the_config_has_none() -> None:
    found = channel("FIT-1", "L/s", NAMES)
    assert found.tag == FLOW and found.reason is None
    assert found.factor * 43.8126363889 == pytest.approx(1, rel=1e-9)
    assert channel("FIT-1 (L/s)", None, NAMES).factor == found.factor
    assert channel("FIT-1 [l/s]", "", NAMES).factor == found.factor
    assert channel("FIT-1", None, NAMES).factor == 1.0


def test_degrees_have_an_offset() -> None:
    # The Fahrenheit scale: 32 °F is 0 °C and 212 °F is 100 °C (NIST SP 811, appendix B.8).
    found = channel("TIT-1 (°F)", None, NAMES)
    assert 212 * found.factor + found.offset == pytest.approx(100)
    assert 32 * found.factor + found.offset == pytest.approx(0, abs=1e-9)


def test_a_unit_that_contradicts_export_unit_is_refused_with_both_named() -> None:
    reason = channel("Well flow", "L/s", NAMES).reason
    assert reason is not None and "L/s" in reason and "gpm" in reason
    assert channel("Well flow", "GPM", NAMES).reason is None
    assert channel("Well flow", "gal/min", NAMES).reason is None


def test_a_unit_of_another_dimension_is_refused_with_both_named() -> None:
    reason = channel("FIT-1", "degC", NAMES).reason
    assert reason is not None and "degC" in reason and "MGD" in reason


def test_a_unit_nobody_knows_is_refused_unless_the_config_says_what_it_is() -> None:
    reason = channel("FIT-1", "widgets", NAMES).reason
    assert reason is not None and "'widgets'" in reason and "export_unit" in reason
    assert channel("Well flow", "widgets", NAMES).reason is None


def test_brackets_of_a_name_that_the_config_spells_out_are_a_unit_only_if_they_fit() -> None:
    assert channel("Blower (A)", None, NAMES) == channel("Blower (A)", "rpm", NAMES)
    assert channel("Blower (A)", None, NAMES).reason is None


@pytest.mark.parametrize("said", ["psi", "%", "NTU", "MG"])
def test_brackets_that_can_be_nothing_but_a_unit_must_fit(said: str) -> None:
    tag = Tag(row=8, tag="FIT-8", export_name=f"FIT-8 ({said})", area="a", measures="flow", unit="gpm")
    reason = channel(tag.export_name, None, {tag.export_name: tag}).reason
    assert reason is not None and said in reason and "gpm" in reason
    told = tag.model_copy(update={"export_unit": "L/s"})
    assert channel(tag.export_name, None, {tag.export_name: told}).reason is None


# NIST SP 811, appendix B.8: an imperial gallon is 4.546 09 L, a US gallon 3.785 412 L.
# A foot of water, conventional, 2.989 067 kPa; a psi 6.894 757 kPa (all from memory).
@pytest.mark.parametrize(
    ("written", "kept", "factor"),
    [
        ("GPM", "MGD", 1440 / 1e6),
        ("igpm", "gpm", 4.54609 / 3.785412),
        ("MLD", "MGD", 1 / 3.785412),
        ("ML/d", "MGD", 1 / 3.785412),
        ("mL/d", "ML/d", 1e-9),  # a millilitre is no megalitre
        ("ppb", "mg/L", 1e-3),
        ("ppm", "mg/L", 1.0),
        ("mNTU", "NTU", 1e-3),
        ("PSI", "psi", 1.0),
        ("ft H2O", "psi", 2.989067 / 6.894757),  # kPa of a foot of water (conventional), of a psi
    ],
)
def test_units_as_control_systems_write_them(written: str, kept: str, factor: float) -> None:
    tag = Tag(row=8, tag="X-8", export_name=f"X-8 ({written})", area="a", measures="flow", unit=kept)
    found = channel(tag.export_name, None, {tag.export_name: tag})
    assert found.reason is None
    # Water at 4 °C and "conventional" water differ by 3 parts in 100,000.
    assert found.factor == pytest.approx(factor, rel=1e-4)


def test_a_state_has_no_unit() -> None:
    assert channel("YS-1", "0/1", NAMES).reason is None
    assert channel("AIT-1", "s.u.", NAMES).reason is None


def test_an_unknown_tag_is_refused_by_the_name_in_the_export() -> None:
    reason = channel("XX-1 (L/s)", None, NAMES).reason
    assert reason is not None and reason.startswith("unknown tag 'XX-1 (L/s)'; add it to config/tags.csv")


@pytest.mark.parametrize("text", ["", "-", "none", "N/A", " ( ) "])
def test_words_for_no_unit(text: str) -> None:
    assert unit_of(text) == ""


def test_channels_are_numbered_as_they_are_met_by_name_and_unit() -> None:
    channels = Channels(NAMES)
    raw = pl.DataFrame({"tag": ["FIT-1", "XX", "FIT-1", "FIT-1"], "unit": ["L/s", None, "gpm", "L/s"]})
    assert channels.place(raw).to_list() == [0, 1, 2, 0]
    assert [one.tag for one in channels.met] == [FLOW, None, FLOW]
    assert channels.place(pl.DataFrame({"tag": ["FIT-1"]})).to_list() == [3]
