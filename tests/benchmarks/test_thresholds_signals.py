"""The bars of the signals: the lowest within the budget, and one for every bar that the checks ask for."""

import json

import pytest

from benchmarks.thresholds_signals import ROWS, STANDING, YEARS, lowest
from pipeline import checks
from pipeline.evidence.thresholds import threshold
from pipeline.parts import parts


def test_the_lowest_bar_within_the_budget_is_taken():
    heights = ROWS["spikes"][1]
    counts = {height: max(3 - place, 0) for place, height in enumerate(heights)}
    every = [{("spikes", height): count for height, count in counts.items()}] * 10
    assert lowest(every, "spikes", 0.0) == (heights[3], 0.0)
    assert lowest(every, "spikes", 1.0 / YEARS) == (heights[2], pytest.approx(1.0 / YEARS))


@pytest.mark.parametrize("name", ROWS)
def test_every_bar_is_written_down_and_guards_kinds_that_exist(name):
    kinds, heights = ROWS[name]
    assert set(kinds) <= set(parts(checks)) and list(heights) == sorted(heights)
    assert threshold(name) in heights
    if name in STANDING:
        assert threshold(name) == STANDING[name][0]
    assert json.dumps(ROWS[name])
