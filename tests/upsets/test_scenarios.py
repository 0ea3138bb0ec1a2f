"""Scenarios: things that go wrong at Harrow Fork; the account of each names the beginning that was put there.

The truth is in `scenes`: which tag is touched first, and when. Of the words only those are held that a
reader acts on.
"""

from datetime import timedelta

import polars as pl
import pytest

from pipeline.clock import week_named
from pipeline.investigate import happened, look_into
from pipeline.table import GRABS
from pipeline.upsets.account import account, first_names
from tests.upsets import scenes
from tests.upsets.scenes import WEEK, at, staged

QUARTER = timedelta(minutes=15)


def told(scene, area_of=None):
    """The upsets of the week, looked into."""
    period = week_named(WEEK, scene.plant.zone)
    return [look_into(scene, one, ()) for one in happened(scene, period)]


def only(scene):
    (one,) = told(scene)
    return one


def began(inquiry, tag, when):
    """Whether the true beginning lies in the printed interval, and the best guess near it."""
    mover = inquiry.order.mover(tag)
    assert mover.low - QUARTER <= at(when) <= mover.high + QUARTER
    assert abs(mover.onset - at(when)) <= 2 * QUARTER


def test_a_quiet_week_has_none():
    assert told(staged()) == []


def test_break_through_after_a_storm_begins_with_the_raw_water():
    one = only(staged(scenes.breakthrough))
    assert "AIT-101" in one.order.first
    assert set(one.order.first) <= {"AIT-101", "FIT-111"}
    began(one, "AIT-101", "2026-11-05T13:00")
    began(one, "AIT-123", "2026-11-05T22:00")
    assert [e.limit.limit_id for e in one.upset.excursions] == ["IFE-123"]
    assert "possible exceedance, for review" in " ".join(account(one)).lower()


def test_loss_of_chlorine_feed_begins_with_the_feed():
    one = only(staged(scenes.no_chlorine))
    assert one.order.first == ("FIT-132",)
    began(one, "FIT-132", "2026-11-06T02:00")
    began(one, "AIT-131", "2026-11-06T03:45")
    assert "Entry point free chlorine (AIT-131) after 1 h 45 min" in " ".join(account(one))
    assert one.doubt.verdict == "water"


def test_a_power_cut_begins_everywhere_at_once():
    one = only(staged(scenes.power_cut))
    assert one.order.together
    assert {"FIT-101", "FIT-111", "FIT-132", "FIT-121"} <= set(one.order.first)
    for tag in ("FIT-101", "FIT-132"):
        began(one, tag, "2026-11-05T14:30")
    text = " ".join(account(one))
    assert "No order can be told" in text and "power" in text


def test_a_stuck_decanter_begins_with_the_reactor_s_phase():
    one = only(staged(scenes.stuck_decanter))
    assert first_names(one)[0] == "YS-511"
    assert "longer than ever in the eight weeks before" in " ".join(account(one))


def test_a_uv_bank_failure_begins_with_its_intensity_and_tells_of_the_other_bank():
    one = only(staged(scenes.uv_failure))
    (first,) = one.order.first
    assert first in ("AIT-532", "AIT-533")
    began(one, first, "2026-11-05T15:00")
    other = "YS-533" if first == "AIT-532" else "YS-532"
    assert f"({other}) went from off to on" in " ".join(account(one))


def test_a_main_break_begins_with_the_pressure():
    one = only(staged(scenes.main_break))
    assert one.order.first == ("PIT-301",)
    began(one, "PIT-301", "2026-11-06T03:15")
    assert {"LIT-301", "LIT-302"} <= {mover.tag for mover in one.order.movers}
    assert "High service pump 2 (YS-132) went from off to on" in " ".join(account(one))


def test_rain_inflow_begins_at_the_lift_stations():
    one = only(staged(scenes.rain_inflow))
    assert set(one.order.first) <= {f"LIT-40{k}" for k in range(1, 7)}
    arrived = one.order.mover("FIT-501")
    assert arrived.onset > min(mover.onset for mover in one.order.movers)
    assert {"LIFT-401", "LIFT-404"} <= {e.limit.limit_id for e in one.upset.excursions}


def test_a_bank_that_went_off_meanwhile_is_named_as_not_judged():
    """Its intensity counts only while it burns, so nothing of it can be in the upset."""
    one = only(staged(scenes.bank_trips_in_the_rain))
    (bank,) = one.unjudged
    assert bank.tag in ("AIT-532", "AIT-533") and bank.tag not in one.upset.tags
    assert bank.start == at("2026-11-06T03:00") and at("2026-11-06T08:00") <= bank.end < at(
        "2026-11-06T09:00"
    )
    number = bank.tag[-1]
    assert (
        f"Not judged meanwhile: UV bank {int(number) - 1} intensity ({bank.tag}) from Fri 6 Nov 03:00 to "
    ) in " ".join(account(one))
    assert bank.condition == f"uv_bank_{int(number) - 1}_on (YS-53{number} == 1)"


def test_what_stops_by_plan_is_not_named():
    """Banks take turns and filters are backwashed all week: a night of rain has no part in that."""
    assert only(staged(scenes.rain_inflow)).unjudged == ()
    assert only(staged(scenes.breakthrough)).unjudged == ()


def test_an_analyser_that_starves_is_called_an_instrument():
    one = only(staged(None, scenes.blocked_sample_line))
    assert one.order.first == ("AIT-131",)
    assert one.doubt.verdict == "instrument"
    assert "Instrument, not water" in " ".join(account(one))


def _grab(value):
    rows = [
        {"tag": "AIT-131", "time": at("2026-11-05T12:20"), "value": value, "unit": "mg/L", "below": False}
    ]
    grabs = pl.DataFrame(rows, schema=GRABS)
    empty = scenes.nothing_written()
    return type(empty)(grabs, empty.calibrations, empty.maintenance, empty.verdicts)


@pytest.mark.parametrize(
    "value, verdict, word", [(0.88, "instrument", "contradicts"), (0.44, "water", "agrees with")]
)
def test_a_grab_taken_meanwhile_decides(value, verdict, word):
    scene = staged(None, scenes.blocked_sample_line, _grab(value))
    one = only(scene)
    assert one.doubt.verdict == verdict
    assert word in one.doubt.reasons[0]


@pytest.mark.parametrize("scenario", ["breakthrough", "power_cut", "main_break"])
def test_no_account_advises_or_condemns(scenario):
    text = " ".join(account(only(staged(getattr(scenes, scenario))))).lower()
    for word in ("violation", "caused", "because", "should be set", "increase the dose", "bypass"):
        assert word not in text
