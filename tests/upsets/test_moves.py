"""Moves: what is beyond everything a tag does by itself, found when it happens and for good."""

import numpy as np
import pytest

from pipeline.upsets.moves import LEARN, moves

DAYS = 70


def quiet(seed):
    return np.random.default_rng(seed).normal(0, 1, DAYS * 96)


def test_a_move_has_its_beginning_end_and_peak():
    z = quiet(1)
    z[-500:-480] += 10.0
    (move,) = moves(z, LEARN)
    assert abs(move.start - (len(z) - 500)) <= 1
    assert abs(move.end - (len(z) - 480)) <= 2
    assert move.crossed == len(z) - 499  # the second of three quarter hours makes the median pass
    assert 8 < move.peak < 14
    assert not move.lasting


def test_one_wild_reading_is_no_move():
    z = quiet(2)
    z[-500] += 40.0
    assert moves(z, LEARN) == []


def test_what_a_tag_does_every_week_is_no_move():
    z = quiet(3)
    for week in range(DAYS // 7):
        z[week * 672 + 300 : week * 672 + 310] = 9.0
    assert moves(z, LEARN) == []


def test_a_level_that_stays_is_given_up_after_two_days():
    z = quiet(4)
    z[-900:] += 10.0
    first = moves(z, LEARN)[0]
    assert first.lasting
    assert first.end - first.crossed == 192


@pytest.mark.parametrize("seed", range(5))
def test_appending_days_changes_no_earlier_move(seed):
    z = quiet(seed)
    random = np.random.default_rng(seed)
    for begin in random.integers(LEARN, len(z) - 50, 6):
        z[begin : begin + random.integers(4, 60)] += random.choice([-1, 1]) * random.uniform(7, 12)
    z[random.random(len(z)) < 0.03] = np.nan
    whole = [(move.start, move.crossed) for move in moves(z, LEARN)]
    assert whole
    for cut in random.integers(LEARN + 100, len(z), 8):
        part = [(move.start, move.crossed) for move in moves(z[:cut], LEARN)]
        assert part == [pair for pair in whole if pair[1] < cut]
