"""Similar: the quick score against the formula written out."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.upsets.similar import NOISE, SHRINK_SD, best, scores


def written_out(sought, record):
    def shrink(z):
        z = np.nan_to_num(z)
        return np.sign(z) * np.maximum(np.abs(z) - SHRINK_SD, 0)

    q, x = shrink(sought), shrink(record)
    tags, length = q.shape
    found = []
    for at in range(x.shape[1] - length + 1):
        part = x[:, at : at + length]
        least = max((part**2).sum(), NOISE * tags * length)
        found.append((q * part).sum() / np.sqrt((q**2).sum() * least))
    return np.array(found)


@given(st.integers(0, 10_000))
def test_the_score_is_the_formula_s(seed):
    random = np.random.default_rng(seed)
    tags, n, length = random.integers(1, 5), random.integers(20, 300), random.integers(4, 18)
    record = random.normal(0, 2, (tags, n)).astype(np.float32)
    record[random.random(record.shape) < 0.1] = np.nan
    sought = random.normal(0, 3, (tags, length)).astype(np.float32)
    assert np.allclose(scores(sought, record), written_out(sought, record), atol=1e-4)


def test_records_longer_than_a_block_join_up():
    random = np.random.default_rng(1)
    record = random.normal(0, 2, (3, 9000)).astype(np.float32)
    sought = record[:, 4090:4186]
    assert np.allclose(scores(sought, record), written_out(sought, record), atol=1e-4)
    assert scores(sought, record).argmax() == 4090
    assert scores(sought, record).max() == pytest.approx(1.0, abs=1e-5)


def test_tenths_in_a_byte_say_the_same():
    random = np.random.default_rng(2)
    tenths = random.integers(-127, 128, (4, 500)).astype(np.int8)
    tenths[:, ::17] = -128
    plain = np.where(tenths == -128, np.nan, tenths * np.float32(0.1)).astype(np.float32)
    assert np.allclose(scores(plain[:, 100:196], tenths), scores(plain[:, 100:196], plain), atol=1e-5)


def test_a_quiet_window_looks_like_nothing_and_size_counts():
    record = np.zeros((2, 400), np.float32)
    record[:, 50:80] = 6.0
    record[:, 250:280] = 0.5
    every = scores(record[:, 40:136], record)
    assert every[40] == pytest.approx(1.0, abs=1e-5)
    assert every[240] == pytest.approx(0.0, abs=1e-5)


def test_the_best_windows_lie_apart_from_each_other_and_from_the_sought_one():
    every = np.zeros(1000, np.float32)
    every[[100, 101, 400, 401, 700]] = [0.9, 0.95, 0.8, 0.7, 0.6]
    assert [match.at for match in best(every, 5, apart=96, without=(700,))] == [101, 400]
