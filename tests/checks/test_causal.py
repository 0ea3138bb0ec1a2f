"""The property the ids rest on: a finding is judged with what was known on its day, and stays."""

from datetime import date, timedelta

import numpy as np
import pytest

from pipeline import checks
from pipeline.parts import parts

KINDS = tuple(parts(checks))


def _ids(findings, before=None):
    return {f.finding_id for f in findings if before is None or f.crossed < before}


def _compare(find, as_known, sensor, kinds, days):
    whole = {kind: find(kind, as_known(sensor)) for kind in kinds}
    for day in days:
        known = as_known(sensor, day)
        for kind in kinds:
            assert _ids(find(kind, known)) == _ids(whole[kind], before=day), (kind, day)
    return whole


@pytest.mark.parametrize("seed", range(6))
def test_spoilt_records_look_the_same_from_any_later_day(find, as_known, spoilt, seed):
    sensor = spoilt(seed)
    random = np.random.default_rng(seed)
    days = [date(2026, 1, 5) + timedelta(days=int(k)) for k in random.integers(1, 200, 10)]
    whole = _compare(find, as_known, sensor, KINDS, days)
    assert whole["gap"] and whole["out_of_range"] and whole["frozen"]


@pytest.mark.parametrize("kind", ["frozen", "gap", "out_of_range"])
def test_a_finding_is_there_on_the_day_after_it_crossed_and_not_before(find, as_known, spoilt, kind):
    sensor = spoilt(11)
    for finding in find(kind, as_known(sensor))[:6]:
        before, after = (as_known(sensor, finding.crossed + timedelta(days=k)) for k in (0, 1))
        assert finding.finding_id not in _ids(find(kind, before))
        assert finding.finding_id in _ids(find(kind, after))


DRIFTS = {
    "weekly grabs": {"drift": 0.06, "onset": 300, "serviced": False},
    "own history": {"drift": 0.06, "onset": 340, "grab_days": 0, "serviced": False},
    "serviced monthly": {"drift": 0.15, "onset": 330},
    "two grabs a day": {"drift": 0.05, "onset": 300, "grab_days": 0.5},
    "grabs every month": {"drift": 0.05, "onset": 330, "grab_days": 28, "serviced": False},
    "a step": {"step": 0.5, "onset": 350, "serviced": False},
}


@pytest.mark.parametrize("name", DRIFTS)
def test_drifts_look_the_same_from_any_later_day(find, as_known, sensor, name):
    drifting = sensor(seed=21, **DRIFTS[name])
    whole = find("drift", as_known(drifting))
    random = np.random.default_rng(3)
    days = {date(2024, 6, 1) + timedelta(days=int(k)) for k in random.integers(250, 419, 5)}
    for finding in whole:  # the hardest days are those around a crossing
        days |= {finding.crossed + timedelta(days=k) for k in (0, 1)}
    _compare(find, as_known, drifting, ("drift", "frozen"), sorted(d for d in days if d < date(2025, 7, 25)))
    if name in ("weekly grabs", "own history", "two grabs a day"):
        assert whole, "the case is worthless without a drift to look at"


def test_a_finding_begins_when_it_did_whatever_came_later(find, as_known, spoilt):
    """Start and crossing are facts of the past; only the end, the estimate and the words may grow."""
    sensor = spoilt(5)
    for kind in ("frozen", "gap", "out_of_range"):
        for finding in find(kind, as_known(sensor)):
            then = find(kind, as_known(sensor, finding.crossed + timedelta(days=1)))
            assert finding.start in [f.start for f in then if f.finding_id == finding.finding_id]


def test_what_is_written_on_a_finding_rests_on_known_errors_alone(find, as_known, sensor):
    """The same day looked at twice says the same, word for word."""
    drifting = sensor(seed=21, **DRIFTS["weekly grabs"])
    day = date(2025, 7, 1)
    assert find("drift", as_known(drifting, day)) == find("drift", as_known(drifting, day))
