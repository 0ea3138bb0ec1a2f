"""Strayed: off its course for hours and back at once; for the record, unless it happens again and again."""

from dataclasses import replace
from datetime import date, datetime, timedelta

import numpy as np
import polars as pl
import pytest

from pipeline.neighbours.join import with_neighbours
from pipeline.result import Excursion
from pipeline.triage import calibration_list, with_doubt

FIRST = date(2026, 1, 5)
AGAIN = (150.4, 153.4, 158.4, 175.4)


def test_it_is_a_note_that_is_over_and_says_what_it_read_and_how_long(find, straying, as_known, make):
    sensor = straying()
    (finding,) = find("strayed", as_known(sensor))
    assert finding.severity == "note" and not finding.is_open and finding.estimate is None
    # The 151st day, 2/5 of the day: 09:36, so from 09:45 on, and summer time has come.
    assert finding.start == make.local(2026, 6, 4, 10, 45)
    assert finding.end - finding.start == timedelta(hours=3)
    lowest = sensor.frame.filter(pl.col("time").is_between(finding.start, finding.end))["value"].min()
    assert "for 3 h," in finding.evidence and f"as low as pH {lowest:.2f} " in finding.evidence
    assert finding.check_first.startswith("sample flow")


def test_a_note_asks_for_nobody(find, straying, as_known):
    case = as_known(straying())
    assert calibration_list(find("strayed", case), {case.tag.tag: case}) == ([], 0)


def test_the_third_in_two_weeks_asks_for_a_visit_and_a_later_one_does_not(find, straying, as_known):
    found = find("strayed", as_known(straying(at=AGAIN)))
    assert [one.severity for one in found] == ["note", "note", "watch", "note"]
    assert "no. 3 within 14 days" in found[2].evidence
    assert len({one.finding_id for one in found}) == 4


@pytest.mark.parametrize("slow", [0.0, 2.0])
def test_a_slow_way_out_does_not_matter(find, straying, as_known, slow):
    assert len(find("strayed", as_known(straying(slow=slow)))) == 1


def test_less_than_the_admissible_error_is_nothing(find, straying, as_known):
    """Admissible is 0.2 pH: whoever checks the instrument would leave it as it is."""
    assert find("strayed", as_known(straying(depth=0.12, scatter=0.003))) == []
    assert len(find("strayed", as_known(straying(depth=0.4, scatter=0.003)))) == 1


def test_at_a_service_it_reads_buffers(find, straying, as_known, make):
    """Common practice, no source: the probe is taken out, rinsed and held into buffers."""
    sensor = straying()
    sensor.services = make.services([make.local(2026, 6, 4, 12)])
    assert find("strayed", as_known(sensor)) == []
    sensor.services = make.services([make.local(2026, 6, 5, 12)])
    assert len(find("strayed", as_known(sensor))) == 1


def test_out_of_state_it_may_read_anything(find, straying, as_known, make):
    sensor = straying()
    in_state = (sensor.frame["time"] < make.local(2026, 6, 4, 10)) | (
        sensor.frame["time"] >= make.local(2026, 6, 4, 15)
    )
    sensor.frame = sensor.frame.with_columns(in_state.alias("in_state"))
    assert find("strayed", as_known(sensor)) == []


@pytest.mark.parametrize("measures", ["flow", "level", "pressure", "feed"])
def test_what_is_switched_or_follows_from_it_is_not_judged(find, straying, as_known, make, measures):
    tag = make.tag(measures=measures, unit={"level": "ft", "pressure": "psi"}.get(measures, "gpm"))
    assert find("strayed", as_known(straying(tag=tag))) == []


def test_a_thinned_record_is_not_judged(find, straying, as_known, make):
    """Readings that repeat the one before, in more than six of ten, are a recorder's."""
    sensor = straying()
    value = np.repeat(sensor.value[::4], 4)[: len(sensor.value)]
    sensor.frame = make.frame(sensor.frame["time"], np.round(value, 2))
    assert find("strayed", as_known(sensor)) == []


WIPER = np.array([32, 37, 38, 97, 20, 837, 2690, 2524, 2017, 1789, 1664, 1423, 1385, 1185, 1311, 2078, 1936])
"""Turbidity [NTU] that a technician rejected as a wiper malfunction (``<-3> [SWM]``), and 3 from 6:15 on:
Great Bay, grbgbwq2020, 19 November 2020, 2:00 to 6:00. NOAA National Estuarine Research Reserve System,
System-wide Monitoring Program, Centralized Data Management Office."""


@pytest.fixture(scope="module")
def coarse(find, as_known, straying, make):
    """Return what is said of calm water on a display in steps of 1 NTU, with such readings one day."""

    def run(readings):
        sensor = straying(at=(), tag=make.tag(measures="turbidity", unit="NTU", high=4000, resolution=1.0))
        sensor.instrument = make.instrument(tolerance=1.0, tolerance_pct=10.0)
        value = np.round(sensor.value - 4.0)
        assert (np.diff(value) == 0).mean() > 0.6 and set(value) == {3.0, 4.0}
        value[150 * 96 + 40 : 150 * 96 + 40 + len(readings)] = readings
        sensor.frame = make.frame(sensor.frame["time"], value)
        return find("strayed", as_known(sensor))

    return run


def test_a_coarse_display_of_calm_water_is_judged_where_it_moves(coarse):
    (finding,) = coarse(WIPER)
    assert finding.end - finding.start == timedelta(hours=4, minutes=15)
    assert "as high as 2690 NTU for 4 h 15 min" in finding.evidence


def test_where_it_does_not_move_it_may_be_thinned_out(coarse):
    """The same readings, every hour's written four times: a recorder jumps as the water need not have."""
    assert coarse(np.repeat(WIPER[::4], 4)) == []


def test_on_a_coarse_display_rounding_is_not_taken_for_a_jump(coarse):
    """Two steps of a display may be little more than one of the water, and 1 NTU is admissible."""
    assert coarse([5, 6, 5, 6]) == []
    assert len(coarse([9, 10, 9, 10])) == 1


@pytest.fixture(scope="module")
def beside(find, straying, as_known, make):
    """Return what is said of a straying pH beside another tag whose readings are a function of the time."""

    def run(value, **changes):
        ph = straying()
        local = ph.frame["time"].dt.convert_time_zone(str(make.zone)).dt.replace_time_zone(None)
        tag = make.tag(tag="X-1", instrument="XE-1", low=-1e6, high=1e6, resolution=None, **changes)
        frame = make.frame(ph.frame["time"], value(local))
        other = make.case(frame, tag=tag, instrument=make.instrument(instrument="XE-1"))
        return find("strayed", with_neighbours({"AIT-101": as_known(ph), "X-1": other})["AIT-101"])

    return run


def _during(local, hours_before=0.0, hours_after=0.0):
    """1 while it strays, from so long before it to so long after, else 0."""
    begin = datetime(2026, 6, 4, 10, 45)
    end = begin + timedelta(hours=3 + hours_after)
    return ((local >= begin - timedelta(hours=hours_before)) & (local < end)).cast(pl.Float64).to_numpy()


def test_a_pump_that_stopped_meanwhile_explains_it(beside):
    assert beside(lambda local: 1 - _during(local), measures="state") == []
    # Caustic lost its prime an hour and a half before, and was back as long before the pH was.
    assert beside(lambda local: 20 * (1 - _during(local, 1.5, -1.5)), measures="feed", unit="gph") == []


def test_a_pump_that_stopped_on_another_day_does_not(beside):
    assert len(beside(lambda local: 1 - np.roll(_during(local), -192), measures="state")) == 1


def test_a_noisy_flow_and_one_that_starts_all_day_do_not(beside):
    """What a plant does all day the signal's own past knows."""
    noise = 400 + 5 * np.random.default_rng(2).standard_normal(200 * 96)
    assert len(beside(lambda _: noise, measures="flow", unit="gpm")) == 1
    starts = 400.0 * (np.arange(200 * 96) // 18 % 2)
    assert len(beside(lambda _: starts, measures="flow", unit="gpm")) == 1


def test_a_second_ph_that_saw_the_same_was_in_the_same_water(beside):
    calm = 7.4 + 0.05 * np.random.default_rng(3).standard_normal(200 * 96)
    assert beside(lambda local: calm - _during(local), measures="ph", unit="pH") == []
    (alone,) = beside(lambda _: calm, measures="ph", unit="pH")
    assert "Nothing else recorded in its area moved with it." in alone.evidence


def test_another_measure_that_moved_is_named_and_accuses_nobody(beside):
    """Of two instruments on one sample line both stray when it runs dry."""
    calm = 400 + 5 * np.random.default_rng(3).standard_normal(200 * 96)
    (both,) = beside(lambda local: calm - 200 * _during(local), measures="conductivity", unit="uS/cm")
    assert "X-1 moved with it" in both.evidence and both.others == ()


def test_an_excursion_meanwhile_stays_as_it_is(find, straying, as_known, make):
    """Dosing that failed and was put right jumps back too: what may have been the water is not doubted."""
    (finding,) = find("strayed", as_known(straying()))
    limit = make.limit(statistic="instantaneous", low=7.0)
    end = finding.start + timedelta(hours=3)
    excursion = Excursion(limit, finding.start, end, 60.0, 6.4, finding.start, 1.0, "pH")
    assert with_doubt([excursion], [finding]) == [excursion]
    assert with_doubt([excursion], [replace(finding, kind="spikes")]) != [excursion]


def test_it_is_told_when_three_readings_of_the_course_are_known(find, straying, as_known, make):
    """It comes back at a quarter to midnight: the third reading is the next day's."""
    (finding,) = find("strayed", as_known(straying(at=(150.82,))))
    assert finding.end == make.local(2026, 6, 4, 23, 45) and finding.crossed == date(2026, 6, 5)


@pytest.mark.parametrize("at", [(150.4,), AGAIN, (150.4, 150.7), (150.82,)])
def test_it_looks_the_same_from_any_later_day(find, straying, as_known, at):
    sensor = straying(at=at)
    whole = find("strayed", as_known(sensor))
    assert whole
    for days in (150, 151, 152, 154, 159, 160, 177, 199):
        day = FIRST + timedelta(days=days)
        known = {one.finding_id: one for one in find("strayed", as_known(sensor, day))}
        before = {one.finding_id: one for one in whole if one.crossed < day}
        assert known == before, day


def test_two_on_one_day_are_one_finding(find, straying, as_known):
    (finding,) = find("strayed", as_known(straying(at=(150.2, 150.5))))
    assert finding.end - finding.start > timedelta(hours=9)
