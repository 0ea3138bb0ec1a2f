"""The upset benchmark measures what it says: known beginnings, known repeats, the same numbers every time."""

import numpy as np
import pytest

from benchmarks.upsets import judged
from benchmarks.upsets_families import MOVERS, SLOWEST_LAG, TAGS, path
from benchmarks.upsets_similar import KINDS, TIMES, world


@pytest.mark.parametrize("family", ["A", "B"])
def test_five_tags_move_one_after_the_other(family):
    one = path(7, family, 6.0)
    moved = np.sort(one.onsets[one.onsets >= 0])
    assert len(moved) == MOVERS
    assert one.onsets[one.root] == moved[0]
    assert ((np.diff(moved) >= 1) & (np.diff(moved) <= SLOWEST_LAG)).all()
    assert moved[0] <= one.anchor


@pytest.mark.parametrize("family", ["A", "B"])
def test_the_noise_has_unit_sd_and_a_move_its_size(family):
    one = path(11, family, 8.0)
    quiet = [tag for tag in range(TAGS) if one.onsets[tag] < 0]
    for tag in quiet:
        # Robustly: heavy tails and slow memories move a single record's sd by a third.
        assert 0.6 < np.nanstd(one.z[tag][-20 * 96 :]) < 1.8
    after = one.z[one.root][one.onsets[one.root] + 24 : one.onsets[one.root] + 60]
    assert 4.0 < abs(np.median(after)) < 12.7


def test_the_same_seed_gives_the_same_score():
    assert judged(path(3, "A", 6.0)) == judged(path(3, "A", 6.0))


def test_a_move_of_ten_sds_is_named_most_of_the_time():
    hits = [judged(path(seed, "A", 10.0))["in_set"][0] for seed in range(12)]
    assert sum(hits) >= 10


def test_every_kind_recurs():
    z, happened = world(5, "A", 5.0)
    assert len(happened) == KINDS * TIMES
    assert {kind for kind, _ in happened} == set(range(KINDS))
    at = happened[0][1]
    assert np.nanmax(np.abs(z[:, at : at + 96])) > 3.0
