"""Pegged: at an end of the span, or cut off at a value inside it."""

from datetime import timedelta

import numpy as np
import pytest


def _held(make, sensor, spells, value, step=0):
    shown = sensor.value.copy()
    for begin, count in spells:
        shown[begin : begin + count] = value
    sensor.frame = make.frame(sensor.frame["time"], np.round(shown, 2))
    return sensor


def test_an_hour_at_the_end_is_told_and_less_is_not(find, ailing, as_known, make):
    begin = 96 * 120
    (finding,) = find("pegged", as_known(_held(make, ailing(), [(begin, 4)], 14.0)))
    assert finding.end - finding.start == timedelta(hours=1)
    assert finding.severity == "watch" and "high end of its span, pH 14.00, for 1 h" in finding.evidence
    assert find("pegged", as_known(_held(make, ailing(), [(begin, 3)], 14.0))) == []


def test_what_lasts_is_for_acting_on(find, ailing, as_known):
    (finding,) = find("pegged", as_known(ailing("pegged")))
    assert finding.severity == "act" and finding.is_open


def test_one_resolution_off_the_end_is_at_the_end(find, ailing, as_known, make):
    assert find("pegged", as_known(_held(make, ailing(), [(96 * 120, 8)], 0.01)))
    assert not find("pegged", as_known(_held(make, ailing(), [(96 * 120, 8)], 0.02)))


def test_resting_at_zero_by_habit_is_nothing(find, ailing, as_known, make):
    """A flow stands at zero every night; a whole day at zero is then news, a longer night is not."""
    nights = [(96 * day, 20) for day in range(1, 199)]
    assert find("pegged", as_known(_held(make, ailing(), nights, 0.0))) == []
    longer = [*nights, (96 * 150, 36)]
    assert find("pegged", as_known(_held(make, ailing(), longer, 0.0))) == []
    (finding,) = find("pegged", as_known(_held(make, ailing(), [*nights, (96 * 150, 90)], 0.0)))
    assert "low end" in finding.evidence


def test_stands_within_two_weeks_are_one_finding(find, ailing, as_known, make):
    spells = [(96 * 120, 8), (96 * 130, 8), (96 * 160, 8)]
    found = find("pegged", as_known(_held(make, ailing(), spells, 14.0)))
    assert len(found) == 2 and "in 2 stretches" in found[0].evidence


def test_a_ceiling_inside_the_span_is_seen(find, ailing, as_known):
    """Readings above 7.5 all shown as 7.50: a span of the recorder's channel that is too small."""
    (finding,) = find("pegged", as_known(ailing("cut off")))
    assert "highest reading, pH 7.50" in finding.evidence and finding.severity == "watch"


@pytest.mark.parametrize("resolution", [0.01, 0.1])
def test_the_crest_of_the_day_is_no_ceiling(find, ailing, as_known, make, resolution):
    """Coarse readings repeat themselves at the crest, and everywhere else."""
    sensor = ailing(scatter=0.005, tag=make.tag(resolution=resolution))
    value = np.round(sensor.value / resolution) * resolution
    sensor.frame = make.frame(sensor.frame["time"], np.round(value, 2))
    assert find("pegged", as_known(sensor)) == []


def test_a_display_too_coarse_for_the_signal_has_no_floor(find, ailing, as_known, make):
    """In steps of 0.05: two calm weeks just above one of them show it again and again, and hardly another."""
    sensor = ailing(tag=make.tag(resolution=0.05))
    n, random = len(sensor.value), np.random.default_rng(3)
    calm = (np.arange(n) // 96 >= 150) & (np.arange(n) // 96 < 164)
    value = np.where(calm, 7.4 + 0.02 * np.abs(random.standard_normal(n)), sensor.value)
    sensor.frame = make.frame(sensor.frame["time"], np.round(np.round(value / 0.05) * 0.05, 2))
    assert find("pegged", as_known(sensor)) == []


@pytest.fixture(scope="module")
def coarse(find, ailing, as_known, make):
    """Return what is said of turbidity about `level`, displayed in steps of 1 NTU, the admissible error.

    From its 121st day on it shows `readings`.
    """

    def run(level, readings, low=0.0):
        sensor = ailing(tag=make.tag(measures="turbidity", unit="NTU", low=low, high=4000.0, resolution=1.0))
        sensor.instrument = make.instrument(tolerance=1.0)
        value = np.round(sensor.value - 7.4 + level)
        value[120 * 96 : 120 * 96 + len(readings)] = readings
        sensor.frame = make.frame(sensor.frame["time"], value)
        return find("pegged", as_known(sensor))

    return run


def test_clean_water_on_a_coarse_display_is_not_at_the_end(coarse):
    """Passed by a technician (``<0>``): Great Bay, grbgbwq2019, turbidity of 6 October 2019, 17:30 to 21:30.

    NOAA National Estuarine Research Reserve System, System-wide Monitoring Program, Centralized Data
    Management Office. On a day at 2 NTU, it reads 1 for three hours and a half: one step off the end.
    """
    assert coarse(2.0, [2, 2, *[1] * 14, 2]) == []
    assert (
        coarse(2.0, [2, 1, 1, *[0] * 8, 1, 0, 0, 1, 2]) == []
    )  # a step further: down to nothing, as steadily
    assert coarse(5.0, [1] * 8) == []  # 1 NTU is no end, however it came there


def test_what_drops_to_the_end_from_afar_stands_there_on_any_display(coarse, find, ailing, as_known, make):
    (finding,) = coarse(5.0, [0] * 4)
    assert "low end of its span, 0 NTU, for 1 h" in finding.evidence
    # Out of the water (``<-3> [GOW]``): grborwq2020, 21 August 2020, 8:30 to 9:15 [mS/cm], 42.9 before it.
    tag = make.tag(measures="conductivity", unit="mS/cm", low=0.0, high=100.0, resolution=0.01)
    sensor = ailing(tag=tag)
    sensor.instrument = make.instrument(tolerance=0.005, tolerance_pct=3.0)
    value = sensor.value + 35.5
    value[120 * 96 : 120 * 96 + 4] = 0.01, 0.01, 0.01, 0.0
    sensor.frame = make.frame(sensor.frame["time"], np.round(value, 2))
    (finding,) = find("pegged", as_known(sensor))
    assert finding.end - finding.start == timedelta(hours=1)


def test_calm_water_has_no_floor_though_storms_widen_its_range(coarse):
    """Weeks at 2 NTU, in steps of 1, with an hour of 30 a day: 2 is the lowest, 3 comes next."""
    random = np.random.default_rng(5)
    days = [2.0 + (random.random(96) < 0.3) for _ in range(21)]
    for day in days:
        day[40:44] = 30.0
    assert coarse(12.0, np.concatenate(days)) == []
    # Cut off at 8 of what ranges on as it did, up to 30: most of the rest lies clear of it.
    sound = 12.0 + 5.0 * random.standard_normal(21 * 96)
    (finding,) = coarse(12.0, np.round(np.clip(sound, 8.0, 30.0)))
    assert "lowest reading, 8 NTU" in finding.evidence


@pytest.mark.parametrize(("low", "told"), [(0.0, 0), (-1.0, 1)])
def test_a_floor_at_nothing_is_no_cut(find, ailing, as_known, make, low, told):
    """A basin whose air is off now and then has no oxygen, and lately its probe has a zero a little low.

    Below a span that begins elsewhere the same pile is told: there the readings could go on.
    """
    tag = make.tag(measures="dissolved_oxygen", unit="mg/L", low=low, high=20.0)
    sensor, random = ailing(tag=tag, scatter=0.05), np.random.default_rng(4)
    off = np.arange(len(sensor.value)) % 24 < 3
    value = np.where(off, 0.15 + 0.03 * random.standard_normal(len(off)), sensor.value - 6.0)
    value[96 * 120 :] -= 0.3
    sensor.frame = make.frame(sensor.frame["time"], np.round(np.maximum(value, 0.0), 2))
    assert len(find("pegged", as_known(sensor))) == told


def _nightly(make, sensor, value, first=100, last=199, hours=5):
    return _held(make, sensor, [(96 * day, 4 * hours) for day in range(first, last)], value)


@pytest.mark.parametrize("last", [104, 130, 199])
def test_a_span_that_is_too_small_does_not_become_usual_in_weeks(find, ailing, as_known, make, last):
    """At the top of its span every night from day 100 on: it is told as long as it comes again.

    It comes back day after day, so it is not over in the morning.
    """
    sensor = _nightly(make, ailing(), 14.0, last=last)
    day = (sensor.frame["time"][96 * last - 40]).date()
    (finding,) = (f for f in find("pegged", as_known(sensor, day)) if f.reference == "instrument's span")
    assert finding.is_open and finding.severity == "watch"
    assert (
        f"in {last - 101} stretches" in finding.evidence or f"in {last - 100} stretches" in finding.evidence
    )


def test_it_is_over_when_it_has_not_come_for_two_days_or_somebody_was_there(find, ailing, as_known, make):
    sensor = _nightly(make, ailing(), 14.0, last=120)
    times = sensor.frame["time"]
    (finding,) = find("pegged", as_known(sensor, times[96 * 123].date()))
    assert finding.end == times[96 * 119 + 20]
    sensor.services = make.services([times[96 * 119 + 40]])
    (finding,) = find("pegged", as_known(sensor, times[96 * 120 + 4].date()))
    assert finding.end == times[96 * 119 + 20]


def test_to_stand_at_nothing_every_night_is_a_habit_within_weeks(find, ailing, as_known, make):
    """From some day on the plant is shut by night: the nights of a season are no news for half a year."""
    found = find("pegged", as_known(_nightly(make, ailing(), 0.0)))
    assert found and not found[-1].is_open and found[-1].end < found[0].start + timedelta(days=29)


@pytest.mark.parametrize(("value", "told"), [(14.0, True), (13.9, False)])
def test_what_is_recorded_on_change_stands_at_the_end_between_two_lines(find, ailing, make, value, told):
    """Stuck for six hours it writes two lines: one when it came there, and its heartbeat."""
    sensor = _held(make, ailing(), [(96 * 120, 24)], value)
    shown = sensor.frame["value"].to_numpy()
    kept = np.flatnonzero(np.append(True, np.diff(shown) != 0) | (np.arange(len(shown)) % 16 == 0))
    on_change = {"recording": "on change", "heartbeat_s": 4 * 3600.0, "step_s": 900}
    found = find("pegged", make.case(sensor.frame[kept], tag=make.tag(**on_change)))
    assert bool(found) == told
