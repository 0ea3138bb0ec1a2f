"""Scale: shares for flows and turbidities, amounts for the rest; both ways round."""

import math

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.baseline.scale import amount, on_scale, working


def _on_working(tag, value):
    return pl.DataFrame({"v": [value]}).select(working(tag, pl.col("v")))["v"][0]


@given(true=st.floats(0.05, 50), error=st.floats(-0.5, 0.5))
def test_a_share_becomes_the_amount_it_stands_for(make, true, error):
    """A meter that reads x % high is off by x % of the true flow: the definition of a gain error."""
    tag = make.tag(measures="flow", unit="MGD", low=None, high=None)
    reading = true * (1 + error)
    on_log = _on_working(tag, reading) - _on_working(tag, true)
    assert amount(tag, on_log, reading) == pytest.approx(reading - true, rel=1e-6, abs=1e-9)


def test_amounts_stay_amounts(make):
    tag = make.tag()
    assert _on_working(tag, 7.3) == 7.3
    assert (amount(tag, 0.2, 7.3), on_scale(tag, 0.2, 7.3)) == (0.2, 0.2)


def test_nothing_has_no_logarithm(make):
    tag = make.tag(measures="turbidity", unit="NTU")
    assert _on_working(tag, 0.0) is None
    assert _on_working(tag, -1.0) is None
    assert _on_working(tag, 2.0) == pytest.approx(math.log(2))


def test_tolerance_of_a_share(make):
    tag = make.tag(measures="turbidity", unit="NTU")
    assert on_scale(tag, 0.05, 0.5) == pytest.approx(0.1)
    assert on_scale(tag, 0.05, 0.0) == 0.05
