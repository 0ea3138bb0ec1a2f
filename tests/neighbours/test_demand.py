"""Demand: a village meter of a sudden reads a quarter, as the season closes or as its unit was changed.

Common practice, no source: water that one meter no longer shows, a sound one does not show either.
"""

import numpy as np
import pytest

DAY, DAYS, FAULT = 96, 130, 110
FACTOR = 1 / 4.403
"""Cubic metres an hour for gallons a minute: a change of this size has the name of a unit."""

FLOW = {"measures": "flow", "unit": "gpm", "high": None, "resolution": 0.001}
TAGS = {"WELL": FLOW, "VILLAGE": FLOW, "BOOSTER": FLOW}


@pytest.fixture(scope="module")
def village(town, make):
    """A well that gives the village and a booster their water.

    The village's readings scatter by 2 %, and by `grain` of that in the end. Their true flows fall
    to `village` and `booster` of what they were; to `read` of it what the village's meter shows.
    """

    def build(village=1.0, booster=1.0, read=1.0, balance=True, grain=1.0, day=None):
        random, count = np.random.default_rng(4), DAYS * DAY
        after = np.arange(count) >= FAULT * DAY
        hour = (np.arange(count) / 4.0) % 24
        course = 1 + 0.2 * np.cos(hour / 12 * np.pi) + make.noise(random, count, 0.99, 0.01)
        out = 30.0 * course * np.where(after, village, 1.0)
        up = 10.0 * course * np.where(after, booster, 1.0)
        shown = {"WELL": out + up, "VILLAGE": out * np.where(after, read, 1.0), "BOOSTER": up}
        shown = {name: value * (1 + random.normal(0, 0.002, count)) for name, value in shown.items()}
        shown["VILLAGE"] *= 1 + 0.02 * np.where(after, grain, 1.0) * random.standard_normal(count)
        law = {"name": "wells", "inflows": ["WELL"], "outflows": ["VILLAGE", "BOOSTER"]}
        return town(
            {name: np.round(value, 3) for name, value in shown.items()},
            day,
            tags=TAGS if balance else {**TAGS, "WELL": {**TAGS["WELL"], "area": "elsewhere"}},
            tolerances={name: {"tolerance": None, "tolerance_pct": 5.0} for name in TAGS},
            physics={"balance": [law]} if balance else None,
        )

    return build


def _told(cases, found):
    return [one for one in found(cases, ("rescaled",)) if one.tag == "VILLAGE"]


def test_a_balance_that_closes_as_before_says_that_it_is_the_water(village, found):
    (finding,) = _told(village(village=FACTOR), found)
    assert finding.severity == "note" and "water balance wells closes as before" in finding.evidence
    assert "gpm for m3/h" not in finding.evidence


def test_a_meter_whose_unit_was_changed_breaks_it(village, found):
    (finding,) = _told(village(read=FACTOR), found)
    assert finding.severity == "act" and "gpm for m3/h" in finding.evidence


def test_meters_beside_it_that_fell_as_much_say_so_too(village, found):
    """0.2 of what it was, beside 0.23: a season that closes takes from all, about alike."""
    (finding,) = _told(village(village=FACTOR, booster=0.2, balance=False), found)
    assert finding.severity == "note" and "BOOSTER changed by about as much" in finding.evidence


def test_what_the_demand_smooths_is_no_blocked_meter(village, found):
    """A season's last guests draw more evenly, too: the scatter left with the water."""
    cases = village(village=FACTOR, grain=0.3)
    (finding,) = [one for one in found(cases, ("damped",)) if one.tag == "VILLAGE"]
    assert finding.severity == "note" and "closes as before" in finding.evidence
    (finding,) = [one for one in found(village(grain=0.3), ("damped",)) if one.tag == "VILLAGE"]
    assert finding.severity == "watch"


def test_alone_it_is_another_unit(village, found):
    (finding,) = _told(village(village=FACTOR, balance=False), found)
    assert finding.severity == "act"
