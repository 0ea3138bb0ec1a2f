"""Thresholds: the derivation against published run lengths and quantiles; the file and its readers."""

import json
from inspect import signature

import numpy as np
import pytest

from benchmarks.thresholds import FILE, groups, merged
from benchmarks.thresholds_drift import Series, episodes, inflation_for, limit_for
from benchmarks.thresholds_list import lowest
from benchmarks.thresholds_samples import Scatter
from pipeline.evidence import errors
from pipeline.evidence.thresholds import curve, threshold
from pipeline.spc.mixture import Mixture
from pipeline.spc.runs import longest_usual_run


def test_limit_of_independent_noise_is_that_of_the_published_tables():
    """EWMA, weight 0.1, limit 2.814 sigma: in-control run length 500 (Lucas and Saccucci 1990, from memory).

    A run ends with its first signal, so each series here is cut after its own; 400 runs give 5 %, and a
    limit that is off by 0.1 changes the run length by a third.
    """
    random = np.random.default_rng(1)
    lengths = []
    for _ in range(400):
        series = Series(np.arange(4000.0), random.standard_normal(4000), (), 1.0)
        first = _first(series, 0.1, 2.814)
        lengths.append(first)
    assert np.mean(lengths) == pytest.approx(500, rel=0.2)


def _first(series, weight, limit):
    """Values until the first signal."""
    low, high = 1, len(series.z)
    while low < high:
        middle = (low + high) // 2
        part = Series(series.day[:middle], series.z[:middle], (), 1.0)
        low, high = (low, middle) if episodes(part, weight, limit) else (middle + 1, high)
    return low


def test_a_smaller_budget_asks_for_a_higher_limit_and_is_kept():
    random = np.random.default_rng(2)
    every = [Series(np.arange(364.0), random.standard_normal(364), (), 1.0) for _ in range(60)]
    loose, strict = limit_for(every, 0.1, 2.0), limit_for(every, 0.1, 0.25)
    assert strict > loose
    assert sum(episodes(one, 0.1, strict) for one in every) / 60 <= 0.25


def test_a_service_restarts_the_average():
    rising = Series(np.arange(40.0), np.full(40, 1.5), (), 1.0)
    often = Series(np.arange(40.0), np.full(40, 1.5), tuple(np.arange(4.5, 40, 5)), 1.0)
    assert episodes(rising, 0.1, 5.0) == 1
    assert episodes(often, 0.1, 5.0) == 0


def test_no_inflation_where_the_sd_is_right():
    """Of normal values 95 % lie within 1.96 sd; 4000 of them give the quantile to 2 %."""
    values = np.random.default_rng(3).normal(0, 2.0, 4000)
    honest, half = ([_scatter(float(v), sd) for v in values] for sd in (2.0, 1.0))
    assert inflation_for(honest, 0.95) == pytest.approx(1.0, abs=0.05)
    assert inflation_for(half, 0.95) == pytest.approx(2.0, abs=0.1)


def _scatter(error, sd):
    return Scatter("grab", Mixture(np.ones(1), np.array([error]), np.array([sd])), 0.0)


def test_the_lowest_bar_with_enough_entries_right():
    entries = [("list_by_twin", 0.85, k % 4 > 0) for k in range(20)]
    entries += [("list_by_twin", 0.90, k > 0) for k in range(15)]
    entries += [("list_by_twin", 0.95, True)] * 9 + [("list_by_own", 0.80, True)] * 20
    assert lowest(entries, "list_by_twin") == (0.90, 15, 14 / 15)
    # Too few entries to tell: the highest bar.
    assert lowest(entries[:3], "list_by_twin")[0] == 0.99


def test_every_threshold_is_read_and_says_what_it_rests_on():
    lines = json.loads(FILE.read_text(encoding="utf-8"))
    for name, line in lines.items():
        assert line["family"] == "A" and line["n"] > 0 and line["what"] and line["date"], name
        assert line["value"] == line["derived"] or line["kept_because"], name
    assert curve("limit_by_history") == errors.LIMIT_BY_HISTORY
    assert threshold("grab_limit") == errors.GRAB_LIMIT
    assert threshold("grab_inflation") == errors.GRAB_INFLATION
    assert threshold("own_inflation") == errors.OWN_INFLATION
    defaults = signature(longest_usual_run).parameters
    # Charts of process control read no file: their defaults are held to the file here.
    assert threshold("run_per_year") == defaults["per_year"].default
    assert threshold("run_caution") == defaults["caution"].default


def test_one_group_rewrites_its_own_lines_alone():
    before = {"limit_by_history": {"value": 1}, "run_caution": {"value": 2}}
    after = merged(before, {"run_caution": {"value": 3}, "new": {"value": 4}})
    assert list(after) == ["limit_by_history", "run_caution", "new"]
    assert after["limit_by_history"] == {"value": 1} and after["run_caution"] == {"value": 3}


def test_groups_are_found_by_their_file_and_samples_are_none():
    assert {"drift", "frozen"} <= set(groups())
    assert not {"samples", "line"} & set(groups())
