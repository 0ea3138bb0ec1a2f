"""Apart: when a stretch opens, when it is over, and that nothing later moves it."""

import numpy as np
import pytest

from pipeline.baseline.apart import FORGET_DAYS, HOLD_AFTER_SERVICE_DAYS, HOLD_DAYS, Bar, spells

BAR = Bar(height=4.0, up=1.0, down=1.0)
FIRST = 20_000.0


def _figure(days=400, seed=1, **stretches):
    figure = 0.1 * np.random.default_rng(seed).standard_normal(days)
    for size, begin, end in stretches.values():
        figure[begin:end] += size
    return FIRST + np.arange(days), figure


def test_nothing_apart_is_nothing_found():
    assert spells(*_figure(), BAR) == []


@pytest.mark.parametrize("size", [2.0, -2.0])
def test_a_stretch_begins_and_ends_on_its_days(size):
    (found,) = spells(*_figure(a=(size, 200, 230)), BAR)
    assert found.begin == 200 and found.crossed == 201
    # The mean of four days is calm when the last of the stretch leave it.
    assert 230 <= found.end <= 233
    assert found.size == pytest.approx(size, abs=0.3) and found.usual == pytest.approx(0.0, abs=0.05)


def test_one_day_is_no_stretch():
    assert spells(*_figure(a=(9.0, 200, 201)), BAR) == []


def test_two_within_the_hold_are_one_and_two_beyond_it_are_two():
    near = spells(*_figure(a=(2.0, 200, 205), b=(2.0, 205 + HOLD_DAYS - 4, 225)), BAR)
    far = spells(*_figure(a=(2.0, 200, 205), b=(2.0, 205 + HOLD_DAYS + 6, 235)), BAR)
    assert len(near) == 1 and len(far) == 2


def test_calm_is_told_at_once_and_what_stirs_again_within_the_hold_is_the_same():
    """The hold keeps one trouble one; that it is quiet is told once four days are calm."""
    stretches = {"a": (2.0, 200, 205), "b": (2.0, 205 + HOLD_DAYS - 4, 225)}
    lasting, calm, again = (spells(*_figure(days, **stretches), BAR)[0] for days in (205, 209, 220))
    assert lasting.over is None and again.over is None
    assert calm.end is None and 205 <= calm.over <= 208
    assert lasting.crossed == calm.crossed == again.crossed


def test_calm_after_a_service_ends_it_sooner():
    day, figure = _figure(days=210 + 3 + HOLD_AFTER_SERVICE_DAYS + 1, a=(2.0, 200, 210))
    assert spells(day, figure, BAR)[0].end is None
    assert spells(day, figure, BAR, services=[FIRST + 210])[0].end is not None


def test_a_long_one_teaches_nothing_until_it_is_what_is_usual():
    day, figure = _figure(days=700, a=(2.0, 200, 700))
    (found,) = spells(day, figure, BAR)
    assert found.end == found.crossed + FORGET_DAYS


def test_a_creep_over_months_is_the_season_as_long_as_no_year_is_known():
    day, figure = _figure(days=260)
    figure += 2.0 * np.clip((np.arange(260) - 100) / 120, 0.0, 1.0)
    assert spells(day, figure, BAR) == []


def test_days_without_a_figure_are_no_evidence():
    day, figure = _figure(a=(2.0, 200, 230))
    figure[190:230] = np.nan
    assert spells(day, figure, BAR) == []


@pytest.mark.parametrize("seed", range(4))
def test_nothing_later_moves_what_was_found(seed):
    random = np.random.default_rng(seed)
    begins = random.integers(60, 480, 6)
    stretches = {str(b): (random.choice([-2.0, 2.0]), b, b + random.integers(3, 40)) for b in begins}
    day, figure = _figure(days=500, seed=seed, **stretches)
    figure[random.random(500) < 0.1] = np.nan
    whole = [(one.begin, one.crossed) for one in spells(day, figure, BAR)]
    assert whole
    for cut in range(50, 500, 7):
        part = [(one.begin, one.crossed) for one in spells(day[:cut], figure[:cut], BAR)]
        assert part == [one for one in whole if one[1] < cut]
