"""Twins: the water falls out of the difference of simultaneous readings, gaps and states do not spoil it."""

import numpy as np
import pytest

from pipeline.baseline.twins import beside_twin
from pipeline.casebook import with_twin


def _pair(make, off=0.3, unit="pH", measures="ph", days=30):
    times = make.grid(make.local(2026, 3, 1), days)
    water = 7.4 + 0.3 * np.sin(2 * np.pi * np.arange(len(times)) / 96) + 0.1 * np.arange(len(times)) / 960
    one = make.case(make.frame(times, water + off), tag=make.tag(unit=unit, measures=measures))
    other = make.case(make.frame(times, water), tag=make.tag(tag="AIT-101B", unit=unit, measures=measures))
    return one, other


def test_the_water_falls_out(make):
    days = beside_twin(*_pair(make))
    assert days.height == 30
    assert days["difference"].to_numpy() == pytest.approx(0.3, abs=1e-9)


def test_for_shares_of_the_reading_it_is_a_ratio(make):
    """10 % high is ln 1.1 on the working scale."""
    one, other = _pair(make, off=0.0, unit="NTU", measures="turbidity")
    one = make.case(one.readings.with_columns(value=1.1 * other.readings["value"]), tag=one.tag)
    assert beside_twin(one, other)["difference"].to_numpy() == pytest.approx(np.log(1.1), abs=1e-9)


def test_only_days_on_which_both_showed_enough(make):
    one, other = _pair(make)
    frame = other.readings.select("time", "value", "good", "in_state")
    less = frame.filter(
        (frame["time"] < make.local(2026, 3, 10)) | (frame["time"] >= make.local(2026, 3, 12, 22))
    )
    days = beside_twin(one, make.case(less, tag=other.tag))
    assert days.height == 27  # the 10th and 11th have nothing, the 12th two hours of 24
    assert make.local(2026, 3, 12).date() not in days["day"].to_list()


def test_other_units_are_not_compared(make):
    one, other = _pair(make)
    assert (
        beside_twin(
            one, make.case(other.readings, tag=make.tag(tag="B", unit="mg/L", measures="chlorine"))
        ).height
        == 0
    )


def test_a_case_knows_its_twin_but_not_the_twins_twin(make):
    one, other = _pair(make)
    both = with_twin(one, with_twin(other, one))
    assert both.twin.tag.tag == "AIT-101B" and both.twin.twin is None
    assert both.twin_days.height == 30
    assert with_twin(one, None) is one and with_twin(one, one) is one
