"""Rhythm: delays that were put in come out again."""

import numpy as np
import pytest

from pipeline.baseline.rhythm import fit, rhythm
from pipeline.baseline.signal import signal_of


def _signal(make, late_minutes, noise=0.02, days=120):
    times = make.grid(make.local(2026, 1, 5), days, 900)
    clock = times.dt.convert_time_zone(str(make.zone))
    hour = clock.dt.hour().to_numpy() + clock.dt.minute().to_numpy() / 60.0
    late = np.where(np.arange(len(times)) >= 100 * 96, late_minutes / 60.0, 0.0)
    angle = 2 * np.pi * (hour - late) / 24
    value = 7.0 + 0.3 * np.cos(angle) + 0.1 * np.cos(2 * angle + 1)
    random = np.random.default_rng(3)
    return signal_of(make.case(make.frame(times, value + noise * random.standard_normal(len(times)))))


@pytest.mark.parametrize("minutes", [0, 15, -30, 45, 60])
def test_the_delay_of_a_day_is_found_by_regression(make, minutes):
    """To first order: an hour is a small part of a day, and of half a day."""
    found = rhythm(_signal(make, minutes))
    assert np.nanmean(found.late_minutes[101:]) == pytest.approx(minutes, abs=5 + 0.1 * abs(minutes))
    assert np.nanstd(found.late_minutes[60:99]) < 15


@pytest.mark.parametrize("minutes", [0, 60, -60, 120])
def test_the_course_fits_best_with_its_own_shift(make, minutes):
    found = fit(rhythm(_signal(make, minutes)), 101, 110)
    assert found.late_slots * 15 == minutes
    assert found.best > 0.98 and found.unmoved <= found.best


def test_noise_has_no_rhythm(make):
    times = make.grid(make.local(2026, 1, 5), 120)
    value = 7.0 + make.noise(np.random.default_rng(2), len(times), 0.99, 0.1)
    assert np.isnan(rhythm(signal_of(make.case(make.frame(times, value)))).late_minutes).all()
