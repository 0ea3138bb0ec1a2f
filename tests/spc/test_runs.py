"""Runs against a grouping by hand and against the geometric law."""

from itertools import groupby

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.spc.runs import longest_usual_run, run_bounds

VALUES = st.lists(st.tuples(st.sampled_from([1.0, 2.0, 3.0, float("nan")]), st.booleans()), max_size=40)


@given(VALUES)
def test_bounds_are_those_of_groupby(readings):
    values = np.array([value for value, _ in readings], dtype=float)
    joined = np.array([join for _, join in readings], dtype=bool)
    # A key that changes wherever a run must end: the value, and the number of breaks so far.
    keys = list(zip(values.tolist(), np.cumsum(~joined).tolist(), strict=True))
    expected = []
    for key, group in groupby(range(len(keys)), lambda i: keys[i]):
        rows = list(group)
        if key[0] == key[0]:
            expected.append((rows[0], rows[-1]))
    first, last = run_bounds(values, joined)
    assert list(zip(first.tolist(), last.tolist(), strict=True)) == expected


def test_bounds_by_hand():
    values = np.array([5.0, 5.0, 5.0, np.nan, 5.0, 6.0, 6.0])
    joined = np.array([False, True, False, True, True, True, True])
    first, last = run_bounds(values, joined)
    assert list(zip(first, last, strict=True)) == [(0, 1), (2, 2), (4, 4), (5, 6)]


@pytest.mark.parametrize("repeat", [0.5, 0.8, 0.9])
def test_geometric_runs_are_exceeded_as_rarely_as_asked(repeat):
    """Runs of a signal that repeats with a constant chance have the geometric law, exactly known."""
    rates = []
    for seed in range(31):
        past = np.random.default_rng(seed).geometric(1 - repeat, 5000)  # half a year of a 15-minute signal
        usual = longest_usual_run(past, 0.5, per_year=0.1, caution=0.0)
        rates.append(10_000 * repeat**usual)
    # The tail rests on 100 runs or more: 10 % of its decay, a factor of two for one past, of 1.2 for the
    # median of 31. Whole readings and "longer than" may each err by one reading to the safe side.
    assert 0.1 * repeat**3 / 1.6 < np.median(rates) < 0.1 * 1.6


def test_caution_makes_it_longer():
    past = np.random.default_rng(7).geometric(0.5, 5000)
    assert longest_usual_run(past, 0.5, caution=0.15) > longest_usual_run(past, 0.5, caution=0.0)


def test_what_happened_three_times_is_not_news():
    past = np.append(np.ones(5000, np.int64), [40, 40, 40])
    assert longest_usual_run(past, 0.5) >= 40


def test_too_short_a_past_allows_everything():
    assert longest_usual_run(np.ones(99, np.int64), 0.5) == float("inf")
    assert longest_usual_run(np.ones(500, np.int64), 0.0) == float("inf")
