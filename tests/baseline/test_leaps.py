"""Leaps: single readings beside both neighbours, by a plain loop."""

import numpy as np

from pipeline.baseline.leaps import leaps
from pipeline.baseline.signal import signal_of


def test_they_are_those_a_plain_loop_finds(make):
    random = np.random.default_rng(6)
    times = make.grid(make.local(2026, 1, 5), 40)
    value = 7.0 + 0.05 * random.standard_normal(len(times))
    hits = np.sort(random.choice(np.arange(96 * 15, 96 * 39, 3), 12, replace=False))
    # All in one block of four weeks: of the next one they would be the habit.
    value[hits] += random.choice([-0.6, 0.6], 12)
    signal = signal_of(make.case(make.frame(times, value)))
    found = leaps(signal, 0.01, False, 5.0)
    assert found.at.tolist() == hits.tolist()
    for at, height in zip(found.at, found.height, strict=True):
        over = value[at] - np.array([value[at - 1], value[at + 1]])
        assert abs(height) == np.abs(over).min() and np.sign(height) == np.sign(over[0])


def test_one_before_midnight_is_told_on_the_next_day(make):
    random = np.random.default_rng(6)
    times = make.grid(make.local(2026, 1, 5), 20)
    value = 7.0 + 0.05 * random.standard_normal(len(times))
    value[96 * 15 - 1] += 1.0
    (told,) = leaps(signal_of(make.case(make.frame(times, value))), 0.01, False, 5.0).told
    assert told == 15


def test_across_a_silence_nothing_leaps(make):
    random = np.random.default_rng(6)
    times = make.grid(make.local(2026, 1, 5), 20)
    value = 7.0 + 0.05 * random.standard_normal(len(times))
    value[96 * 15] += 1.0
    keep = np.ones(len(times), bool)
    keep[96 * 15 + 1 : 96 * 15 + 9] = False
    frame = make.frame(times, value).filter(keep)
    assert len(leaps(signal_of(make.case(frame)), 0.01, False, 5.0).at) == 0


def test_what_a_block_of_four_shows_twice_is_a_habit(make):
    """Leaps of 0.6 in every block, then the same again and one of twice the height."""
    random = np.random.default_rng(6)
    times = make.grid(make.local(2026, 1, 19), 140)
    value = 7.0 + 0.05 * random.standard_normal(len(times))
    value[np.arange(96 * 5, 96 * 138, 96 * 6)] += 0.6
    value[96 * 120 + 40] += 1.2
    found = leaps(signal_of(make.case(make.frame(times, value))), 0.01, False, 5.0)
    # The first, on the fifth day, has no week before it to be held against.
    assert (found.at < 96 * 28).sum() == 3
    assert found.at[found.at >= 96 * 28].tolist() == [96 * 120 + 40]
