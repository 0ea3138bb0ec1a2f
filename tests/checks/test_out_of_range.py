"""Out of range: what the span cannot hold, for how long, and known when."""

from datetime import date, timedelta

import numpy as np
import pytest


def _case(make, values, as_of=None, start=None, **judged):
    start = start or make.local(2026, 3, 2)
    times = make.grid(start, len(values) / 96)
    return make.case(make.frame(times, values, **judged), instrument=make.instrument(), as_of=as_of)


def _day(**beyond):
    values = 7.0 + np.arange(288) % 7 * 0.01
    for name, (count, value) in beyond.items():
        row = int(name[1:])
        values[row : row + count] = value
    return values


def test_two_readings_beyond_the_span(make, find):
    (finding,) = find("out_of_range", _case(make, _day(r100=(2, -0.3))))
    assert (finding.start, finding.end) == (
        make.local(2026, 3, 3, 1),
        make.local(2026, 3, 3, 1, 30),
    )
    assert finding.severity == "watch"
    assert "30 min" in finding.evidence and "−0.30" in finding.evidence


@pytest.mark.parametrize("value", [0.0, 14.0])
def test_the_ends_of_the_span_belong_to_it(make, find, value):
    assert find("out_of_range", _case(make, _day(r100=(8, value)))) == []


@pytest.mark.parametrize("value", [-0.01, 14.01])
def test_both_ends_are_watched(make, find, value):
    assert len(find("out_of_range", _case(make, _day(r100=(8, value))))) == 1


def test_one_blip_is_not_worth_a_word_where_twenty_minutes_are_asked(make, find):
    case = _case(make, _day(r100=(1, 20.0)))
    assert find("out_of_range", case, fewest_minutes=20.0) == []
    assert len(find("out_of_range", case, fewest_minutes=15.0)) == 1


def test_blips_of_one_day_add_up_to_one_finding(make, find):
    blips = _day(r100=(1, 20.0), r120=(1, 20.0), r150=(1, 20.0))
    (finding,) = find("out_of_range", _case(make, blips), fewest_minutes=30.0)
    assert "45 min" in finding.evidence
    assert finding.crossed == date(2026, 3, 3)


def test_what_leaves_the_span_each_noon_is_one_finding(make, find):
    (finding,) = find("out_of_range", _case(make, _day(r50=(2, 20.0), r160=(2, 20.0))))
    assert finding.crossed == date(2026, 3, 2)
    assert finding.evidence.startswith("Read pH 20.00 for 1 h in 2 stretches")


@pytest.mark.parametrize(("apart", "found"), [(24.0, 2), (48.0, 1)])
def test_so_long_apart_is_another_finding(make, find, apart, found):
    case = _case(make, _day(r50=(2, 20.0), r160=(2, 20.0)))
    assert len(find("out_of_range", case, apart_hours=apart)) == found


def test_what_lasts_is_open_and_for_acting_on(make, find):
    (finding,) = find("out_of_range", _case(make, _day(r280=(8, 20.0))))
    assert (finding.end, finding.severity) == (None, "act")


def test_a_bad_reading_beyond_the_span_is_the_gap_checks_business(make, find):
    assert find("out_of_range", _case(make, _day(r100=(8, 20.0)), good=_day(r100=(8, 20.0)) < 14)) == []


def test_a_probe_lifted_out_for_a_service_is_no_fault(make, find):
    """Out of state: a filter out of service, or someone at work on the instrument, as logged."""
    assert find("out_of_range", _case(make, _day(r100=(8, 20.0)), in_state=_day(r100=(8, 20.0)) < 14)) == []


def test_a_tag_without_a_span_has_no_findings(make, find):
    times = make.grid(make.local(2026, 3, 2), 3)
    case = make.case(make.frame(times, _day(r100=(8, 1e6))), tag=make.tag(low=None, high=None))
    assert find("out_of_range", case) == []


@pytest.mark.parametrize("minutes", [1, 7, 15, 20, 29])
@pytest.mark.parametrize("fewest", [10.0, 15.0, 25.0])
def test_a_blip_before_midnight_has_the_day_on_which_it_was_known(make, find, minutes, fewest):
    """One reading `minutes` before midnight stands for 30 minutes: known when that has been long enough."""
    midnight = make.local(2026, 3, 3)
    times = [midnight - timedelta(minutes=k) for k in (90, 60, 45, minutes)]
    times += [midnight + timedelta(hours=k) for k in range(1, 40)]
    values = [7.0, 7.1, 7.2, 20.0] + [7.0 + 0.01 * k for k in range(39)]
    frame = make.frame(times, values)
    whole = find("out_of_range", make.case(frame), fewest_minutes=fewest)
    then = find("out_of_range", make.case(frame, as_of=midnight), fewest_minutes=fewest)
    assert len(whole) == 1
    assert {f.finding_id for f in then} == {f.finding_id for f in whole if f.crossed < date(2026, 3, 3)}
    assert bool(then) is (minutes >= fewest)
