"""Ceilings: how often two in a row show the extreme, less what the signal's habit explains."""

import numpy as np

from pipeline.baseline.ceilings import pile
from pipeline.baseline.signal import grains_of, signal_of


def _piled(make, day):
    value = np.tile(np.asarray(day, float), 10)
    times = make.grid(make.local(2026, 1, 5), 10)
    case = make.case(make.frame(times, value), tag=make.tag(high=100.0, resolution=1.0))
    signal = signal_of(case)
    return pile(signal, grains_of(case), 1.0)


def test_a_cut_is_counted_pair_by_pair(make):
    """A saw tooth of 1 to 32, cut off at 20: three times a day 13 readings in a row, 12 pairs."""
    found = _piled(make, np.minimum(np.tile(np.arange(1, 33), 3), 20))
    assert found.extreme[9] == 20.0 and found.pairs[9] == 7 * 3 * 12
    assert found.first_day(9) == 3


def test_the_tooth_itself_is_no_pile(make):
    assert _piled(make, np.tile(np.arange(1, 33), 3)).pairs.max() == 0


def test_a_signal_that_rests_everywhere_rests_at_its_crest_too(make):
    """Every value stands for six readings, the highest one apart from the others."""
    day = np.repeat([*range(1, 16), 30], 6)
    assert _piled(make, day).pairs.max() == 0


def test_two_days_are_no_pile(make):
    times = make.grid(make.local(2026, 1, 5), 10)
    value = np.tile(np.tile(np.arange(1.0, 33.0), 3), 10)
    for day in (4, 5):
        value[96 * day : 96 * day + 40] = 40.0
    case = make.case(make.frame(times, value), tag=make.tag(high=100.0, resolution=1.0))
    signal = signal_of(case)
    assert pile(signal, grains_of(case), 1.0).pairs.max() == 0
