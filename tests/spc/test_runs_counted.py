"""Runs: quantiles of counted lengths are those of the lengths themselves."""

import numpy as np
import pytest

from pipeline.spc.runs import _quantile, _ranked


@pytest.mark.parametrize("seed", range(20))
def test_they_are_numpys_of_the_sorted_lengths(seed):
    """Linear between ranks: Hyndman and Fan (1996), type 7, numpy's default."""
    random = np.random.default_rng(seed)
    lengths = random.geometric(random.uniform(0.2, 0.95), random.integers(100, 2000))
    count, ordered = np.bincount(lengths), np.sort(lengths)
    assert _quantile(count, 0.98) == pytest.approx(np.quantile(lengths, 0.98))
    ranks = [0, 1, len(lengths) // 2, len(lengths) - 3, len(lengths) - 1]
    assert [_ranked(count, rank) for rank in ranks] == [ordered[rank] for rank in ranks]
