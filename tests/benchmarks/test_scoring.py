"""Scoring: hand-made sensors whose score is plain to see."""

import numpy as np

from benchmarks.detection_counts import found
from benchmarks.scoring import (
    Passing,
    Record,
    Said,
    Trouble,
    caught,
    delay,
    is_in_time,
    is_true,
    passings,
    week_end,
)

DAYS, FROM = 200, 100


def _record(error=None, troubles=(), said=(), services=(10.0,), service_days=365.0):
    error = np.zeros(DAYS) if error is None else np.asarray(error, float)
    return Record("g", "ph", "weekly", FROM, error, tuple(troubles), services, service_days, tuple(said))


def _said(crossed, kind="drift", error=1.0, end=None, listed=True):
    return Said(
        kind, "act", "lab grab", float(crossed), float(crossed), end, listed, error, error - 1, error + 1, 0.1
    )


def _ramp(onset, per_day):
    return np.clip(np.arange(DAYS) - onset, 0, None) * per_day


def test_an_entry_is_true_when_the_error_is_past_the_tolerance():
    past = _record(_ramp(110, 0.05))
    assert is_true(past, _said(140))  # 1.5 tolerances
    assert not is_true(past, _said(140, error=-1.0)), "the other way round is wrong"
    assert not is_true(_record(), _said(140))


def test_an_entry_may_foresee_what_the_next_service_would_have_found():
    assert is_true(_record(_ramp(110, 0.02)), _said(130))  # 0.4 now, 1.8 at the end of the record
    served = _record(_ramp(110, 0.02), services=(10.0, 150.0))
    assert not is_true(served, _said(130)), "0.8 when the service came"
    assert not is_true(_record(_ramp(120, 0.05)), _said(121)), "too early to be more than luck"


def test_what_the_record_no_longer_shows_is_drawn_on_until_the_service_is_due():
    rising = _ramp(160, 0.02)  # 0.78 on the last day
    assert is_true(_record(rising, services=(150.0,), service_days=100.0), _said(190))
    assert not is_true(_record(rising, services=(150.0,), service_days=55.0), _said(190))


def test_a_recording_fault_is_true_while_its_label_lasts():
    stuck = Trouble("stuck", 12.0, 120.0, 120.5)
    assert is_true(_record(troubles=[stuck]), _said(120, "frozen", np.nan))
    assert not is_true(_record(troubles=[stuck]), _said(150, "frozen", np.nan))


def test_what_happened_while_the_plant_stood_still_need_not_be_found_but_may_be():
    unseen = Trouble("stuck", 12.0, 120.0, 120.5, is_due=False)
    record = _record(troubles=[unseen], said=[_said(120, "frozen", np.nan)])
    assert is_true(record, record.said[0])
    assert found([record], 14.0).n == 0


def test_caught_in_time_by_the_right_kind():
    drift = Trouble("drift", 1.0, 120.4, 200.0)
    record = _record(_ramp(120, 0.05), [drift], [_said(110, end=115.0), _said(130, "frozen"), _said(150)])
    assert caught(record, drift, 56).crossed == 150
    assert delay(drift, caught(record, drift, 56)) == 30
    assert caught(record, drift, 28) is None
    already = _record(_ramp(120, 0.05), [drift], [_said(110)])
    assert delay(drift, caught(already, drift, 28)) == 0


def test_a_report_is_read_at_the_end_of_its_week():
    assert week_end(7.0) == 14.0
    assert week_end(13.0) == 14.0


def test_passings_and_whether_the_list_had_them_in_time():
    error = _ramp(110, 0.05)  # past 1 after day 130, past 2 after day 150
    (passing,) = passings(_record(error))
    assert passing == Passing(131, 151.0, DAYS)
    assert is_in_time(_record(error, said=[_said(139)]), passing)  # read on day 140
    assert not is_in_time(_record(error, said=[_said(148)]), passing)  # read on day 154
    assert not is_in_time(_record(error, said=[_said(139, listed=False)]), passing)
    assert is_in_time(_record(error, said=[_said(139, listed=False)]), passing, is_listed=False)
    assert not is_in_time(_record(error, said=[_said(105, end=120.0)]), passing)


def test_what_is_over_in_days_or_doubles_in_days_is_no_passing():
    blip = np.zeros(DAYS)
    blip[150:153] = 1.5
    assert passings(_record(blip)) == []
    assert passings(_record(_ramp(150, 1.0))) == []
