"""Onset: a known beginning lies where the probability is; noise alone has none."""

import numpy as np
import pytest

from pipeline.upsets.onset import AFTER, BEFORE, onset

DAYS = 60
ANCHOR = DAYS * 96 - 60


def noise(seed, phi=0.8):
    from scipy.signal import lfilter

    random = np.random.default_rng(seed)
    return lfilter([np.sqrt(1 - phi**2)], [1.0, -phi], random.standard_normal(DAYS * 96))


def found(z, **more):
    return onset(z, ANCHOR, z[: ANCHOR - 96], **more)


@pytest.mark.parametrize("seed", range(8))
def test_a_jump_is_found_to_the_quarter_hour(seed):
    z = noise(seed)
    z[ANCHOR - 5 :] += 8.0
    told = found(z)
    assert told.moved
    assert told.chance.sum() == pytest.approx(1.0)
    assert told.quantile(0.05) <= -5 <= told.quantile(0.95)
    assert abs(told.quantile(0.5) + 5) <= 1
    assert told.size == pytest.approx(8.0, abs=2.5)


def test_a_fall_is_as_good_as_a_rise():
    z = noise(3)
    z[ANCHOR - 5 :] += 8.0
    up, down = found(z), found(-z)
    assert np.allclose(up.chance, down.chance)
    assert up.size == pytest.approx(-down.size)


def test_noise_alone_seldom_moves():
    # The bar is the 97.5 % quantile of the record's own past; of 60 records 1.5 are expected beyond it.
    assert sum(found(noise(seed)).moved for seed in range(100, 160)) <= 6


def test_a_jump_such_as_the_record_makes_every_other_day_is_no_move():
    z = noise(9)
    for begin in range(0, len(z), 192):
        z[begin : begin + 96] += 6.0
    z[ANCHOR - 200 : ANCHOR + 48] = noise(10)[ANCHOR - 200 : ANCHOR + 48]
    z[ANCHOR - 5 : ANCHOR + 48] += 5.0
    assert not found(z).moved


def test_one_wild_reading_is_no_beginning():
    z = noise(4)
    z[ANCHOR] += 15.0
    told = found(z)
    assert not told.moved or abs(told.size) < 6


def test_the_search_keeps_within_what_is_known():
    z = noise(5)
    z[ANCHOR - 5 :] += 8.0
    told = found(z, within=(ANCHOR - 30, ANCHOR - 10))
    places = np.flatnonzero(told.chance) - BEFORE
    assert places.min() >= -30 and places.max() <= -10


def test_later_readings_that_are_not_there_yet_do_no_harm():
    z = noise(6)
    z[ANCHOR - 5 :] += 8.0
    told = onset(z[: ANCHOR + 3], ANCHOR, z[: ANCHOR - 96])
    assert abs(told.quantile(0.5) + 5) <= 1


def test_nothing_is_said_without_two_weeks_of_past():
    assert onset(noise(7), ANCHOR, noise(7)[:1000]) is None


def test_the_clock_of_the_answer():
    assert len(found(noise(8)).chance) == BEFORE + AFTER + 1
