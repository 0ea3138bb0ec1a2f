"""Cells that carry a unit, behind a space or not: it is the tag's, where all of them carry the same."""

import polars as pl
import pytest

from pipeline.setup.carried import apart


def _rows(texts: list[str], said: str = "") -> pl.DataFrame:
    return pl.DataFrame({"tag": "ZIT-1", "time": range(len(texts)), "value": texts, "unit": said})


@pytest.mark.parametrize(
    ("texts", "said", "numbers", "unit"),
    [
        (["45 %", "46.5%", "Bad"], "", ["45", "46.5", "Bad"], "%"),
        (["45 %", "46"], "", ["45", "46"], "%"),
        (["<0.02 mg/L"], "", ["<0.02"], "mg/L"),
        (["12.5 °C"], "", ["12.5"], "degC"),
        (["12.5 deg C"], "degC", ["12.5"], "degC"),
        # Two units, or another than the header's: whoever reads it must say which.
        (["12.5 °C", "54.5 °F"], "", ["12.5 °C", "54.5 °F"], ""),
        (["45 %"], "mg/L", ["45 %"], "mg/L"),
        (["2 pumps", "On"], "", ["2 pumps", "On"], ""),
    ],
)
def test_apart(texts: list[str], said: str, numbers: list[str], unit: str) -> None:
    found = apart(_rows(texts, said))
    assert found["value"].to_list() == numbers
    assert set(found["unit"]) == {unit}
