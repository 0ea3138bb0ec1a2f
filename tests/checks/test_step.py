"""Step: wrong calibrations of known size, right ones, and what one sensor cannot tell."""

from datetime import date, timedelta

import numpy as np
import pytest

from pipeline.casebook import with_twin

SERVICE = date(2025, 5, 17)
"""Day 350 of the record."""


def _calibrated(make, sensor, seed, by, taken_away=0.0, **changes):
    """A sensor that a calibration on day 350 leaves wrong by `by`, or that it rids of `taken_away`."""
    made = sensor(seed, natural=0.0, service_days=0, step=by, onset=350 + 10 / 24, **changes)
    early = np.arange(made.frame.height) < 350 * 96 + 40
    made.error = made.error + np.where(early, taken_away, 0.0)
    made.frame = made.frame.with_columns(value=made.frame["value"] + np.where(early, taken_away, 0.0))
    made.services = make.services([make.local(2025, 5, 17, 10)])
    return made


@pytest.mark.parametrize("seed", range(6))
def test_a_wrong_calibration_is_found_with_the_second_grab(find, as_known, sensor, make, seed):
    (finding,) = find("step", as_known(_calibrated(make, sensor, seed, 0.4)))
    assert finding.severity == "act" and finding.reference == "lab grab"
    assert finding.start == make.local(2025, 5, 17)
    assert 7 < (finding.crossed - SERVICE).days <= 14, "the second weekly grab"
    assert finding.ci_low < 0.4 < finding.ci_high
    assert finding.is_open


def test_a_calibration_that_puts_right_is_no_step(find, as_known, sensor, make):
    """Wrong by twice its tolerance for weeks, and right since: that was a drift or an earlier step."""
    for seed in range(8):
        righted = _calibrated(make, sensor, seed, 0.0, taken_away=0.4)
        assert find("step", as_known(righted)) == []


def test_an_error_that_was_there_before_did_not_come_with_the_service(find, as_known, sensor, make):
    for seed in range(8):
        wrong = sensor(seed, natural=0.0, service_days=0, step=0.4, onset=300)
        wrong.services = make.services([make.local(2025, 5, 17, 10)])
        assert find("step", as_known(wrong)) == []


def test_healthy_sensors_are_left_alone(find, as_known, sensor):
    """Twelve sensors, thirteen services each: at 95 % and far inside the tolerance none is expected."""
    found = [f for seed in range(12) for f in find("step", as_known(sensor(seed)))]
    assert len(found) <= 1


def test_by_its_own_past_it_says_what_it_cannot_tell(find, as_known, sensor, make):
    found = [
        find("step", as_known(_calibrated(make, sensor, seed, 0.6, grab_days=0, season=0.0)))
        for seed in range(6)
    ]
    told = [finding for one in found for finding in one]
    assert len(told) >= 3
    for finding in told:
        assert finding.severity == "watch" and finding.reference == "own history"
        assert "cannot tell" in finding.evidence


def test_beside_a_twin_it_is_known_on_the_third_day_and_stays_said(find, sensor, make):
    """The twin has enough before the second grab: what it said first is what stands when the grab comes."""
    for seed in range(3):
        wrong = _calibrated(make, sensor, seed, 0.4)
        water = make.frame(wrong.frame["time"], np.round(wrong.frame["value"].to_numpy() - wrong.error, 2))
        for day in (None, SERVICE + timedelta(days=5)):
            as_of = None if day is None else make.local(day.year, day.month, day.day)
            case = make.case(
                wrong.frame,
                instrument=wrong.instrument,
                grabs=wrong.grabs,
                services=wrong.services,
                as_of=as_of,
            )
            twin = make.case(water, tag=make.tag(tag="AIT-101B"), as_of=as_of)
            (finding,) = find("step", with_twin(case, twin))
            assert (finding.crossed - SERVICE).days == 3
            assert finding.reference == "twin instrument" and "A grab tells" in finding.evidence


def test_without_a_service_there_is_none(find, as_known, sensor):
    assert find("step", as_known(sensor(3, natural=0.0, service_days=0, step=0.4, onset=350))) == []


def test_what_was_said_stays_said(find, as_known, sensor, make):
    for changes in ({}, {"grab_days": 0, "season": 0.0}, {"grab_days": 1}):
        wrong = _calibrated(make, sensor, 4, 0.6, **changes)
        whole = find("step", as_known(wrong))
        assert whole
        for day in (SERVICE + timedelta(days=k) for k in range(1, 30, 2)):
            known = {f.finding_id for f in find("step", as_known(wrong, day))}
            assert known == {f.finding_id for f in whole if f.crossed < day}, (changes, day)


def _one_slip(make, sensor, seed, factor):
    """A calibration that changed nothing, and a first grab after it written down wrongly."""
    made = _calibrated(make, sensor, seed, 0.0)
    day = (made.grabs["time"] - made.start).dt.total_days().to_numpy()
    slip = np.flatnonzero(day > 350)[0]
    value = made.grabs["value"].to_numpy().copy()
    value[slip] *= factor
    made.grabs = made.grabs.with_columns(value=value)
    return made


@pytest.mark.parametrize("factor", [0.1, 1.1])
def test_one_slip_of_the_pen_is_no_step(find, as_known, sensor, make, factor):
    """0.75 for 7.5, 8.2 for 7.5: the other grab denies it. Common practice, no source."""
    for seed in range(6):
        assert find("step", as_known(_one_slip(make, sensor, seed, factor))) == []
