"""Movers: a tag whose move was over before the upset began took no part in it (plain logic)."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from pipeline.upsets.grid import SLOT, Grid
from pipeline.upsets.group import Event, Upset
from pipeline.upsets.movers import order
from pipeline.upsets.path import Path

DAYS = 70
GRID = Grid(datetime(2026, 1, 1, tzinfo=UTC), DAYS * 96)
BEGAN = GRID.count - 96
PATH = Path({"town": "water", "intake": "water"}, ("intake", "town"), {("intake", "town"): 300.0})


def _noise(seed):
    from scipy.signal import lfilter

    return lfilter([0.6], [1.0, -0.8], np.random.default_rng(seed).standard_normal(GRID.count))


def _told(earlier, area="town"):
    """The order of an upset of LIT-1, where AIT-5 was low for `earlier` quarter hours of it."""
    level, chlorine = _noise(1), _noise(2)
    level[BEGAN : BEGAN + 40] -= 12.0
    first, last = earlier
    chlorine[BEGAN + first : BEGAN + last] -= 12.0
    start = GRID.time(BEGAN)
    event = Event(
        "LIT-1", "town", "water", start, start + 40 * SLOT, start + SLOT, -12.0, start + timedelta(hours=1)
    )
    z = {"LIT-1": level, "AIT-5": chlorine}
    return order(Upset([event]), z, {"LIT-1": "town", "AIT-5": area}, GRID, PATH)


def test_what_was_over_before_took_no_part():
    """Low from 23 hours to 9 hours before the tank fell: that was yesterday's upset."""
    told = _told((-92, -36))
    assert [mover.tag for mover in told.movers] == ["LIT-1"]
    assert told.first == ("LIT-1",)


@pytest.mark.parametrize("earlier", [(-8, 40), (-30, 40)])
def test_what_still_went_on_did(earlier):
    told = _told(earlier)
    assert told.first == ("AIT-5",)
    assert abs((told.movers[0].onset - GRID.time(BEGAN + earlier[0])) / SLOT) <= 2


def test_upstream_it_may_have_been_over_for_as_long_as_the_water_takes():
    """Over for five hours, at an intake five hours upstream; in town that would be too long ago."""
    assert [mover.tag for mover in _told((-40, -20), "intake").movers] == ["AIT-5", "LIT-1"]
    assert [mover.tag for mover in _told((-40, -20), "town").movers] == ["LIT-1"]
