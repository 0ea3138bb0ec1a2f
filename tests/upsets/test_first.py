"""First: probabilities against counting every combination."""

from itertools import product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.upsets.first import first_chances, named


def counted(table):
    """Brute force over all combinations of beginnings; a tie of k counts one k-th for each."""
    share = np.zeros(len(table))
    for places in product(*(range(len(row)) for row in table)):
        chance = np.prod([row[at] for row, at in zip(table, places, strict=True)])
        ahead = np.flatnonzero(np.array(places) == min(places))
        share[ahead] += chance / len(ahead)
    return share


@given(st.integers(0, 10_000))
def test_it_is_what_counting_gives(seed):
    random = np.random.default_rng(seed)
    table = random.dirichlet(np.full(5, 0.5), size=random.integers(1, 5))
    told = first_chances({str(k): row for k, row in enumerate(table)})
    assert list(told.values()) == pytest.approx(counted(table), abs=1e-9)


def test_ten_tags_at_one_instant_share_alike_and_are_all_named():
    row = np.eye(8)[3]
    told = first_chances({f"T{k}": row for k in range(12)})
    assert list(told.values()) == pytest.approx([1 / 12] * 12)
    assert len(named(told)) == 12


def test_one_name_stands_alone_only_where_it_is_earned():
    early, late = np.array([0.95, 0.05, 0.0]), np.array([0.0, 0.05, 0.95])
    assert named(first_chances({"A": early, "B": late})) == ["A"]
    unsure = np.array([0.4, 0.3, 0.3])
    assert set(named(first_chances({"A": unsure, "B": unsure}))) == {"A", "B"}


def test_nothing_moved():
    assert first_chances({}) == {} and named({}) == []
