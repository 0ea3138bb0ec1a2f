"""Findings of one signal are judged with what was known on their day, and stay."""

from datetime import date, timedelta

import numpy as np
import pytest

from tests.checks.conftest import AILMENTS

FIRST = date(2026, 1, 5)


def _ids(findings, before=None):
    return {f.finding_id for f in findings if before is None or f.crossed < before}


def _days(found, last, seed):
    """Some days at random, and those around every crossing and ending: the hardest ones."""
    random = np.random.default_rng(seed)
    days = {FIRST + timedelta(days=int(k)) for k in random.integers(60, last, 5)}
    for finding in found:
        days |= {finding.crossed + timedelta(days=k) for k in (0, 1, 2)}
        if finding.end is not None:
            days |= {finding.end.date() + timedelta(days=k) for k in (1, 15)}
    return sorted(day for day in days if day < FIRST + timedelta(days=last))


@pytest.mark.parametrize("kind", AILMENTS)
@pytest.mark.parametrize("over", [False, True])
def test_an_ailing_signal_looks_the_same_from_any_later_day(find, ailed, kind, over):
    long = kind == "clock_shift"
    until = {"until": 318 if long else 140} if over else {}
    whole = find(kind, ailed(kind, **until))
    assert whole, "the case is worthless without a finding to look at"
    for day in _days(whole, 340 if long else 200, seed=len(kind)):
        known = find(kind, ailed(kind, day, **until))
        assert _ids(known) == _ids(whole, before=day), day
        begun = {f.finding_id: f.start for f in whole}
        assert all(begun[f.finding_id] == f.start for f in known)


@pytest.mark.parametrize("kind", [kind for kind in AILMENTS if kind != "clock_shift"])
def test_a_finding_is_there_on_the_day_after_it_crossed_and_not_before(find, ailed, kind):
    finding = find(kind, ailed(kind))[0]
    before, after = (find(kind, ailed(kind, finding.crossed + timedelta(days=k))) for k in (0, 1))
    assert finding.finding_id not in _ids(before)
    assert finding.finding_id in _ids(after)


@pytest.mark.parametrize("kind", AILMENTS)
def test_every_ailment_is_open_while_it_lasts_and_over_when_it_is_over(find, ailed, kind):
    long = kind == "clock_shift"
    until = 318 if long else 140
    (lasting,) = [f for f in find(kind, ailed(kind)) if f.end is None]
    (over,) = find(kind, ailed(kind, until=until))
    end = FIRST + timedelta(days=until)
    assert lasting.finding_id == over.finding_id and over.end is not None
    assert timedelta(days=-2) <= over.end.date() - end <= timedelta(days=8)


@pytest.mark.parametrize(("kind", "within"), [("noisy", 4), ("damped", 4), ("spikes", 9)])
def test_that_it_is_over_is_told_within_the_days_that_are_looked_at(find, ailed, kind, within):
    """Three days of usual scatter, seven without spikes: nobody is sent to what is well."""
    end = FIRST + timedelta(days=140)
    lasting, over = (find(kind, ailed(kind, end + timedelta(days=k), until=140))[0] for k in (0, within))
    assert lasting.is_open and not over.is_open
    assert lasting.finding_id == over.finding_id
    assert timedelta(0) <= over.end.date() - end <= timedelta(days=2)
