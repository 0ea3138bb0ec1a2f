"""Noise keeps its nature at every step; sizes are those of plant records."""

import numpy as np
import pytest

from pipeline.demo.calendar import Calendar, make_calendar
from pipeline.demo.noise import ar1, lag, stream, wander, white
from pipeline.demo.water import Signals


@pytest.mark.parametrize("step_minutes", [1, 5, 15])
def test_first_order_noise_forgets_at_the_same_rate(step_minutes: int) -> None:
    """An AR(1) process of time constant T has autocorrelation exp(-t/T) (any textbook on time series)."""
    calendar = make_calendar(60, step_minutes)
    noise = ar1(stream(1, "test"), calendar, time_constant_h=3.0)
    hour = calendar.steps(1.0)
    assert noise.std() == pytest.approx(1.0, abs=0.05)
    assert np.corrcoef(noise[:-hour], noise[hour:])[0, 1] == pytest.approx(np.exp(-1.0 / 3.0), abs=0.02)


def test_first_order_noise_starts_as_it_goes_on() -> None:
    calendar = make_calendar(1, 15)
    first = [ar1(stream(seed, "start"), calendar, 50.0)[0] for seed in range(400)]
    assert np.std(first) == pytest.approx(1.0, abs=0.12)


@pytest.mark.parametrize("step_minutes", [1, 15])
def test_a_mixed_tank_reaches_63_percent_after_its_time_constant(step_minutes: int) -> None:
    """Step response 1 - exp(-t/T): 0.632 at t = T (any textbook on process control)."""
    calendar = make_calendar(1, step_minutes)
    step = np.where(np.arange(len(calendar)) > 0, 1.0, 0.0)
    assert lag(step, 5.0, calendar)[calendar.steps(5.0)] == pytest.approx(0.632, abs=0.002)


def test_streams_are_their_own() -> None:
    calendar = make_calendar(2, 15)
    one, same = white(1, "a", calendar, 1.0), white(1, "a", calendar, 1.0)
    assert (one == same).all()
    for other in (white(1, "b", calendar, 1.0), white(2, "a", calendar, 1.0)):
        assert abs(np.corrcoef(one, other)[0, 1]) < 0.1


def test_wander_is_bounded() -> None:
    calendar = make_calendar(60, 15)
    assert np.abs(wander(1, "w", calendar, 0.05)).max() < 0.05 * 2.6


# Detrended standard deviation of daily medians: pH 0.03 to 0.05, turbidity 10 to 18 %, chlorine 4 to 6 %,
# temperature 0.2 to 0.5 degC (one drinking-water record of 85 days, and common practice).
@pytest.mark.parametrize(
    ("tag", "share", "low", "high"),
    [
        ("AIT-132", False, 0.030, 0.050),
        ("AIT-102", False, 0.030, 0.050),
        ("AIT-541", False, 0.030, 0.050),
        ("AIT-101", True, 0.10, 0.18),
        ("AIT-542", True, 0.10, 0.18),
        ("AIT-131", True, 0.04, 0.06),
        ("TIT-101", False, 0.20, 0.50),
        ("TIT-541", False, 0.20, 0.50),
    ],
)
def test_daily_medians_wander_as_in_plant_records(
    calendar: Calendar, water: Signals, tag: str, share: bool, low: float, high: float
) -> None:
    values = np.log(water[tag]) if share else water[tag]
    days = calendar.wall.astype("datetime64[D]")
    daily = np.array([np.median(values[days == day]) for day in np.unique(days)])
    smooth = np.convolve(np.pad(daily, 15, "edge"), np.ones(31) / 31, "valid")
    spread = 1.4826 * np.median(np.abs(daily - smooth))
    assert low <= spread <= high
