"""Snaps: an excursion that ends at once, and all that only looks like one."""

import numpy as np
import pytest

from pipeline.baseline.signal import Signal
from pipeline.baseline.snaps import AGREED, FEWEST_DAYS, MOST_NEWS, snaps

DAY_US, STEP_US = 86_400_000_000, 900_000_000
FIRST_DAY = 20_500


def _signal(x, missing=()):
    """Return 15-minute readings from midnight on, in UTC, whose wall clock shows the same."""
    count = len(x)
    time = FIRST_DAY * DAY_US + np.arange(count) * STEP_US
    keep = np.ones(count, bool)
    keep[list(missing)] = False
    time, x = time[keep], np.asarray(x, float)[keep]
    row = time // DAY_US - FIRST_DAY
    days = int(row[-1]) + 1
    joined = np.append(False, np.diff(time) <= 2 * STEP_US)
    none = np.full(days, np.nan)
    return Signal(FIRST_DAY, time, time, x, x, row, joined, np.bincount(row), none, none)


def _quiet(days=200, seed=1):
    """Return scatter of 0.03 about nothing."""
    return 0.03 * np.random.default_rng(seed).standard_normal(days * 96)


def _with(shape, at=150 * 96 + 40, days=200):
    x = _quiet(days)
    x[at : at + len(shape)] += shape
    return x


def test_slow_out_and_at_once_back_is_one_and_is_measured():
    """Off by 10 an hour for two hours; three readings hold on either side, so the jump is a lower bound."""
    x = _with(-np.linspace(2.5, 20.0, 8))
    (found,) = snaps(_signal(x), 0.0, 1.5)
    assert (found.begin, found.back) == (150 * 96 + 41, 150 * 96 + 48)  # from the share that agrees on
    assert 20.0 - 3 * 2.5 - 0.2 <= found.height <= 20.0
    assert found.course == pytest.approx(0.0, abs=0.1)


@pytest.mark.parametrize("side", [-1.0, 1.0])
@pytest.mark.parametrize("readings", [3, 10, 47])
def test_both_sides_and_all_lengths(side, readings):
    x = _with(side * np.ones(readings))
    (found,) = snaps(_signal(x), 0.0, 1.5)
    assert found.back - found.begin == readings and np.sign(found.height) == -side


def test_one_reading_on_its_way_back_is_allowed_and_an_hour_is_not():
    """A straight way back over k readings jumps by 2 / (k + 1) of the whole from any two of them."""
    one, hour = (_with(-np.append(np.ones(8), way)) for way in (0.5, [0.8, 0.6, 0.4, 0.2]))
    assert len(snaps(_signal(one), 0.5, 1.5)) == 1
    assert snaps(_signal(hour), 0.5, 1.5) == []


@pytest.mark.parametrize("hours", [1.0, 2.0, 6.0])
def test_a_stirred_tank_never_snaps(hours):
    """What a slug leaves behind in a stirred tank of residence time T falls as exp(-t / T).

    The washout of an ideal stirred tank, any textbook of reactor design (from memory). Slower than the
    record's step by four or more it is no jump, however high the slug was.
    """
    minutes = 15.0 * np.arange(48)
    slug = 20.0 * np.exp(-minutes / (60.0 * hours))
    assert snaps(_signal(_with(slug)), 0.0, 10.0) == []


@pytest.mark.parametrize(
    "shape",
    [
        np.ones(2),  # a spike of two readings
        np.ones(49),  # more than half a day
        np.append(np.ones(20), (1 + AGREED) * -np.ones(20)),  # comes back to the other side
        np.ones(4760),  # a step that stays
    ],
)
def test_what_is_none(shape):
    assert snaps(_signal(_with(shape)), 0.0, 1.5) == []


def test_what_touches_the_course_in_between_is_judged_from_there():
    shape = np.ones(30)
    shape[20] = 0.0
    assert snaps(_signal(_with(shape)), 0.0, 1.5) == []


def test_over_missing_readings_nothing_is_said():
    at = 150 * 96 + 40
    assert len(snaps(_signal(_with(np.ones(12))), 0.0, 1.5)) == 1
    for first in (at - 1, at + 5, at + 11):
        assert snaps(_signal(_with(np.ones(12)), missing=range(first, first + 3)), 0.0, 1.5) == []


def test_what_lies_over_a_silence_teaches_nothing():
    """After an hour without readings the water is where it has got to: no jump of the signal's own."""
    x, missing = _with(0.6 * np.ones(8)), []
    for number, day in enumerate(range(20, 140, 12)):
        x[day * 96 :] += (-1.0) ** number
        missing += range(day * 96, day * 96 + 4)
    assert len(snaps(_signal(x, missing), 0.0, 1.5)) == 1


def test_what_the_signal_does_by_habit_is_its_own():
    """A basin that is fed by another well for two hours on every tenth day."""
    x = _quiet(300)
    for day in range(4, 300, 10):
        x[day * 96 + 30 : day * 96 + 38] += 1.0
    assert snaps(_signal(x), 0.0, 1.5) == []


def test_a_few_faults_teach_nothing_and_many_are_a_habit():
    x = _quiet(364)
    days = np.arange(100, 360, 12)
    for day in days:
        x[day * 96 + 30 : day * 96 + 38] += 1.0
    found = snaps(_signal(x), 0.0, 1.5)
    assert len(found) >= MOST_NEWS
    assert max(one.told for one in found) < days[-4]


def test_before_a_season_is_known_nothing_is_said():
    first = snaps(_signal(_with(np.ones(8), at=(FEWEST_DAYS - 30) * 96)), 0.0, 1.5)
    later = snaps(_signal(_with(np.ones(8), at=(FEWEST_DAYS + 30) * 96)), 0.0, 1.5)
    assert first == [] and len(later) == 1 and later[0].past_days >= FEWEST_DAYS


def test_rounding_alone_is_no_jump():
    """Rounded to r, two readings differ by up to r more than what they were rounded from."""
    x = np.round(_quiet(300, seed=4) / 0.1) * 0.1
    x[250 * 96 + 10 : 250 * 96 + 18] -= 0.1
    assert snaps(_signal(x), 0.1, 1.5) == []


def test_pure_noise_gives_none_in_twenty_years():
    """Three beyond three others by half more than a year's highest, and back where it was."""
    for seed in range(20):
        assert snaps(_signal(_quiet(365, seed)), 0.0, 1.5) == []
