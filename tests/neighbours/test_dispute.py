"""Dispute: twins that part, whom the grabs accuse, and what stays open without them."""

from datetime import date, timedelta

import numpy as np
import pytest

DAYS, BEGIN = 140, 100
FIRST = date(2026, 1, 1)


@pytest.fixture(scope="module")
def twins(town, make):
    """Two pH probes in one water, 0.03 pH apart; from day 100 on the first shows `off` more."""

    def build(off=0.0, day=None, grabs=(), lab_off=0.0, services=None, until=DAYS):
        random = np.random.default_rng(12)
        count = DAYS * 96
        water = 7.4 + make.noise(random, count, 0.99, 0.1)
        one, two = (water + random.normal(0, 0.012, count) for _ in range(2))
        two = two + 0.03
        one[BEGIN * 96 : until * 96] += off
        stamps = [make.local(2026, 1, 1) + timedelta(days=k, hours=10) for k in range(1, DAYS, 2)]
        lab = make.events(stamps, np.round([water[k * 96 + 40] + lab_off for k in range(1, DAYS, 2)], 2))
        ph = {"measures": "ph", "unit": "pH", "high": 14.0}
        return town(
            {"AIT-1": np.round(one, 2), "AIT-2": np.round(two, 2)},
            day,
            tags={"AIT-1": {**ph, "twin": "AIT-2"}, "AIT-2": ph},
            tolerances={name: {"tolerance": 0.2} for name in ("AIT-1", "AIT-2")},
            grabs=dict.fromkeys(grabs, lab),
            services=services,
        )

    return build


def _on(found, cases):
    return [one for one in found(cases, ("disagrees",)) if one.reference.startswith("twin")]


def test_a_pair_certifies_a_difference_and_says_that_it_accuses_nobody(twins, found):
    one, other = sorted(_on(found, twins(0.6)), key=lambda f: f.tag)
    assert one.ci_low <= 0.6 <= one.ci_high and other.ci_low <= -0.6 <= other.ci_high
    assert {one.severity, other.severity} == {"watch", "note"}
    assert "cannot be told" in one.evidence and "AIT-1 and AIT-2" in one.evidence
    assert "no service of it is on record" in one.evidence
    assert one.crossed == FIRST + timedelta(days=BEGIN + 2)


def test_the_grabs_of_the_bad_one_accuse_it(twins, found):
    said = _on(found, twins(0.6, grabs=("AIT-1",)))
    assert said[-1].severity == "watch" or said[0].severity == "watch"
    last = {f.tag: f for f in said if f.is_open}
    assert last["AIT-1"].severity == "watch" and "Lab grabs point at this one" in last["AIT-1"].evidence
    assert last["AIT-2"].severity == "note"


def test_the_grabs_of_the_good_one_clear_it(twins, found):
    last = {f.tag: f for f in _on(found, twins(0.6, grabs=("AIT-2",))) if f.is_open}
    assert (last["AIT-1"].severity, last["AIT-2"].severity) == ("watch", "note")


@pytest.mark.parametrize("off", [0.0, 0.2, 0.35])
def test_two_that_may_both_be_within_their_tolerance_are_left_alone(twins, found, off):
    """0.2 pH each: 0.4 together."""
    assert _on(found, twins(off)) == []


def test_a_difference_that_was_always_there_is_usual(town, found, make):
    random = np.random.default_rng(13)
    level = 20 + make.noise(random, DAYS * 96, 0.99, 1.0)
    shown = {
        "LIT-1": np.round(level, 2),
        "LIT-2": np.round(level + 4.0 + random.normal(0, 0.01, len(level)), 2),
    }
    assert found(town(shown, tags={"LIT-1": {"twin": "LIT-2"}}), ("disagrees",)) == []


def test_it_is_over_on_the_day_on_which_they_agree_again(twins, found):
    ends = {f.end for f in _on(found, twins(0.6, until=120))}
    assert {end.date() for end in ends} == {FIRST + timedelta(days=120)}


@pytest.fixture(scope="module")
def attended(make):
    """Services: of AIT-1 before the dispute; of AIT-2 in it, on day 110."""
    return {
        f"AIT-{k}": make.services(
            [make.local(2026, 1, 1) + timedelta(days=day, hours=9)], instrument=f"E-AIT-{k}"
        )
        for k, day in ((1, 50), (2, 110))
    }


def test_who_was_serviced_meanwhile_is_not_the_one(twins, found, attended):
    """A technician was there and it goes on: it is the other one (common practice, no source)."""
    said = _on(found, twins(0.6, services=attended))
    first = [one for one in said if one.crossed == FIRST + timedelta(days=BEGIN + 2)]
    assert {one.tag: one.severity for one in first} == {"AIT-1": "note", "AIT-2": "watch"}
    last = {one.tag: one for one in said if one.is_open}
    assert {tag: one.severity for tag, one in last.items()} == {"AIT-1": "watch", "AIT-2": "note"}
    assert last["AIT-1"].crossed == FIRST + timedelta(days=115)
    assert "serviced or checked since, and it goes on" in last["AIT-1"].evidence


@pytest.mark.parametrize("k", [101, 103, 109, 110, 114, 115, 116, 130])
def test_a_service_is_heeded_from_its_own_day_on(twins, found, attended, k):
    day = FIRST + timedelta(days=k)
    whole = {(f.finding_id, f.severity) for f in _on(found, twins(0.6, services=attended))}
    known = {(f.finding_id, f.severity) for f in _on(found, twins(0.6, day, services=attended))}
    assert known == {one for one in whole if one[0][-10:] < day.isoformat()}


@pytest.mark.parametrize("grabs", [(), ("AIT-1",), ("AIT-2",)])
def test_it_looks_the_same_from_any_later_day(twins, found, grabs):
    whole = {(f.finding_id, f.severity) for f in _on(found, twins(0.6, grabs=grabs))}
    assert whole
    for k in (99, 101, 102, 103, 104, 107, 110, 115, 130):
        day = FIRST + timedelta(days=k)
        known = {(f.finding_id, f.severity) for f in _on(found, twins(0.6, day, grabs))}
        assert known == {one for one in whole if one[0][-10:] < day.isoformat()}, day
