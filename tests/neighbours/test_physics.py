"""Physics: a tank and the pressure beneath it, what comes in and what goes out, a pump and its flow."""

from datetime import date, timedelta

import numpy as np
import polars as pl
import pytest

from pipeline.config.physics import Physics
from pipeline.neighbours.base_pressure import FT_PER_PSI, head_ft
from pipeline.neighbours.join import with_neighbours

DAY = 96
DAYS = 150
FAULT = 110 * DAY
LATER = [date(2026, 1, 1) + timedelta(days=k) for k in (60, 109, 111, 112, 113, 114, 118, 125, 140)]


def test_a_psi_carries_2_31_ft_of_water_and_a_foot_weighs_0_433_psi():
    """Common practice (operators' handbooks): 2.31 ft/psi and 0.433 psi/ft, from 62.4 lb/ft3."""
    assert head_ft(1.0) == pytest.approx(2.31, abs=0.005)
    assert pytest.approx(0.433, abs=0.0006) == 1.0 / FT_PER_PSI
    assert pytest.approx(144.0 / 62.4, rel=0.0006) == FT_PER_PSI


def test_the_same_from_the_unit_library_s_own_constants():
    """1000 kg/m3 and standard gravity, 9.80665 m/s2 (CGPM 1901), exactly."""
    import pint

    unit = pint.UnitRegistry()
    height = (1.0 * unit.psi) / (1000 * unit.kg / unit.m**3 * unit.standard_gravity)
    assert head_ft(1.0) == pytest.approx(height.to("ft").magnitude, rel=1e-9)


def test_110_psi_is_254_ft():
    """Handbook example (common practice): 110 psi x 2.31 ft/psi = 254 ft."""
    assert round(head_ft(110.0)) == 254


@pytest.fixture(scope="module")
def tank(town, make, lively):
    """A tank that swings between 20 and 32 ft, and a gauge 134 ft below it on a main with friction by day."""

    def build(error_ft=0.0, error_psi=0.0, day=None, grabs=None, services=None):
        level = lively(5, DAYS, level=26.0, sd=2.0, grain=0.01)
        hour = (np.arange(len(level)) / 4.0) % 24
        friction = 4.0 * np.clip(np.sin((hour - 7) / 12 * np.pi), 0, 1)
        pressure = (
            (level + 134.0) / FT_PER_PSI
            - friction
            + make.noise(np.random.default_rng(6), len(level), 0.9, 0.2)
        )
        level, pressure = level.copy(), np.round(pressure, 1)
        level[FAULT:] += error_ft
        pressure[FAULT:] += error_psi
        return town(
            {"LIT-1": level, "PIT-1": pressure},
            day,
            tags={"PIT-1": {"measures": "pressure", "unit": "psi"}},
            tolerances={"PIT-1": {"tolerance": 1.0}},
            services=services,
            physics={"base_pressure": [{"level": "LIT-1", "pressure": "PIT-1"}]},
        )  # fmt: skip

    return build


def test_a_level_that_leaves_its_pressure_is_told_with_its_error(tank, found):
    both = found(tank(error_ft=-6.0), ("disagrees",))
    level = next(one for one in both if one.tag == "LIT-1")
    assert level.ci_low <= -6.0 <= level.ci_high
    assert level.reference == "base pressure PIT-1"
    assert "cannot be told" in level.evidence and "2.31 ft" in level.evidence
    # The day of the fault and two more: known at the end of the third.
    assert level.crossed == date(2026, 1, 1) + timedelta(days=112)


def test_a_pressure_that_leaves_its_level_has_its_error_in_psi(tank, found):
    both = found(tank(error_psi=3.0), ("disagrees",))
    pressure = next(one for one in both if one.tag == "PIT-1")
    assert pressure.unit == "psi" and pressure.ci_low <= 3.0 <= pressure.ci_high


def test_one_of_the_two_is_to_look_at_and_the_other_for_the_record(tank, found, make):
    """The one that was serviced longest ago comes first."""
    visits = {
        "LIT-1": make.services([make.local(2025, 12, 1)], instrument="E-LIT-1"),
        "PIT-1": make.services([make.local(2025, 6, 1)], instrument="E-PIT-1"),
    }
    said = {one.tag: one.severity for one in found(tank(error_ft=-6.0, services=visits), ("disagrees",))}
    assert said == {"LIT-1": "note", "PIT-1": "watch"}


def test_within_their_tolerances_they_agree(tank, found):
    """0.25 ft and 1 psi: together 2.56 ft."""
    assert found(tank(error_ft=-1.2), ("disagrees",)) == []
    assert found(tank(), ("disagrees",)) == []


@pytest.fixture(scope="module")
def works(town, make, lively):
    """Raw water of 0.65 MGD with its daily course, through a basin that evens it out, to two filters."""

    def build(factor=None, loss_gpm=0.0, fill_gpm=0.0, day=None, services=None):
        count = DAYS * DAY
        random = np.random.default_rng(8)
        hour = (np.arange(count) / 4.0) % 24
        raw = 450.0 * (1 + 0.2 * np.sin(hour / 12 * np.pi)) * (1 + make.noise(random, count, 0.99, 0.05))
        out = raw + 60.0 * np.sin(hour / 12 * np.pi)
        out[FAULT : FAULT + 10 * DAY] -= fill_gpm
        level = 9.5 + np.cumsum(np.append(0.0, (raw - out - loss_gpm)[:-1])) * 15.0 / 26_000.0
        shown = {"FIT-0": raw / 694.444, "FIT-1": 0.6 * out, "FIT-2": 0.4 * out, "LIT-1": level}
        for name, share in (factor or {}).items():
            shown[name] = np.append(shown[name][:FAULT], share * shown[name][FAULT:])
        for name in ("FIT-0", "FIT-1", "FIT-2"):
            shown[name] = shown[name] * (1 + random.normal(0, 0.01, count))
        flow = {"measures": "flow", "unit": "gpm"}
        return town(
            {name: np.round(values, 3) for name, values in shown.items()},
            day,
            tags={"FIT-0": {"measures": "flow", "unit": "MGD"}, "FIT-1": flow, "FIT-2": flow},
            tolerances={f"FIT-{k}": {"tolerance": None, "tolerance_pct": 5.0} for k in range(3)},
            services=services,
            physics={
                "balance": [
                    {"name": "works", "inflows": ["FIT-0"], "outflows": ["FIT-1", "FIT-2"],
                     "storage": [{"level": "LIT-1", "gallons_per_foot": 26_000.0}]}
                ]
            },
        )  # fmt: skip

    return build


def test_a_meter_that_leaves_the_balance_is_told_once(works, found, make):
    told = make.services([make.local(2026, 1, 20)])
    visits = {f"FIT-{k}": told.with_columns(instrument=pl.lit(f"E-FIT-{k}")) for k in (1, 2)}
    visits["LIT-1"] = told.with_columns(instrument=pl.lit("E-LIT-1"))
    cases = works({"FIT-0": 1.25}, services=visits)
    (finding,) = found(cases, ("disagrees",))
    assert finding.tag == "FIT-0" and finding.reference == "water balance works"
    assert set(finding.others) == {"FIT-1", "FIT-2", "LIT-1"}
    # Shows a quarter more than there is: a fifth of what it shows.
    now = cases["FIT-0"].daily["level"].tail(28).median()
    assert finding.ci_low <= 0.2 * now <= finding.ci_high
    assert finding.estimate == pytest.approx(0.2 * 0.65 * 1.25, rel=0.1)
    assert finding.crossed == date(2026, 1, 1) + timedelta(days=112)


def test_on_the_other_side_of_the_balance_an_error_has_the_other_sign(works, found, make):
    """An outflow meter that shows too much makes water appear: it reads high."""
    told = make.services([make.local(2026, 1, 20)])
    visits = {name: told.with_columns(instrument=pl.lit(f"E-{name}")) for name in ("FIT-0", "FIT-2", "LIT-1")}
    (finding,) = found(works({"FIT-1": 1.4}, services=visits), ("disagrees",))
    assert finding.tag == "FIT-1" and " above " in finding.evidence
    # One of two meters on its side: 60 % of the water 40 % too high is a share of the whole, ln 1.24.
    assert finding.estimate is None and f"{100 * np.log(1.24):.0f} %" in finding.evidence


def test_a_tank_s_level_is_never_what_loses_water_for_long(works, found, make):
    """It comes back to where it was, whatever its error: what it gained one day it loses another."""
    told = make.services([make.local(2026, 1, 20)])
    visits = {f"FIT-{k}": told.with_columns(instrument=pl.lit(f"E-FIT-{k}")) for k in range(3)}
    said = found(works({"FIT-0": 1.25}, services=visits), ("disagrees",))
    assert said and all(one.tag != "LIT-1" for one in said)


@pytest.mark.parametrize(("factor", "told"), [(0.833, True), (1.0, False)])
def test_a_meter_that_flickers_between_batches_may_be_off_by_no_more(town, found, factor, told):
    """Decants of two hours, six a day, 3 MGD; between them a zero that flickers below a cut-off of 0.02 MGD.

    It may be off by 5 % of what passes, not by the cut-off's share in the flicker.
    """
    count, random = DAYS * DAY, np.random.default_rng(9)
    runs = (np.arange(count) // 4) % 4 == 3
    flow = np.where(
        runs, 3.0 * (1 + random.normal(0, 0.01, count)), np.abs(random.normal(0.003, 0.001, count))
    )
    shown = np.append(flow[:FAULT], factor * flow[FAULT:])
    inflow = np.full(count, flow.mean()) * (1 + random.normal(0, 0.01, count))
    cases = town(
        {"FIT-0": np.round(inflow, 4), "FIT-1": np.round(shown, 4)},
        tags={key: {"measures": "flow", "unit": "MGD"} for key in ("FIT-0", "FIT-1")},
        tolerances={key: {"tolerance": 0.02, "tolerance_pct": 5.0} for key in ("FIT-0", "FIT-1")},
        physics={"balance": [{"name": "works", "inflows": ["FIT-0"], "outflows": ["FIT-1"], "storage": []}]},
    )
    said = [one for one in found(cases, ("disagrees",)) if one.reference == "water balance works"]
    assert bool(said) == told


@pytest.mark.parametrize("share", [0.95, 1.0, 1.05])
def test_a_balance_within_the_tolerances_holds(works, found, share):
    """5 % on either side, 10 % together."""
    assert found(works({"FIT-0": share}), ("disagrees",)) == []


@pytest.fixture(scope="module")
def cycling(town, make):
    """Wells of 430 gpm into a clearwell and a pump of 690 gpm out of it, on and off by level; seen hourly."""

    def build(seed, factor=1.0):
        random, count = np.random.default_rng(seed), DAYS * 1440
        wander = make.noise(random, DAYS * 24, 0.97, 0.08).repeat(60)
        demand = 250.0 * (1 + 0.4 * np.sin(np.arange(count) / 720 * np.pi)) * (1 + wander)
        shown, wells, pump, clearwell, tank = [], 0.0, 0.0, 8.0, 27.0
        for minute, used in enumerate(demand.tolist()):
            pump = 690.0 if tank < 24.5 or (pump and tank < 30.0) else 0.0
            wells = 430.0 if clearwell < 6.0 or (wells and clearwell < 10.5) else 0.0
            tank += (pump - used) / 9_000.0
            clearwell = max(clearwell + (wells - pump) / 8_000.0, 0.0)
            if minute % 60 == 0:
                shown.append((wells, pump * (factor if minute >= 110 * 1440 else 1.0), round(clearwell, 2)))
        return town(
            dict(zip(("FIT-0", "FIT-1", "LIT-1"), np.array(shown).T, strict=True)),
            tags={f"FIT-{k}": {"measures": "flow", "unit": "gpm"} for k in range(2)},
            tolerances={f"FIT-{k}": {"tolerance": None, "tolerance_pct": 5.0} for k in range(2)},
            physics={
                "balance": [
                    {"name": "clearwell", "inflows": ["FIT-0"], "outflows": ["FIT-1"],
                     "storage": [{"level": "LIT-1", "gallons_per_foot": 8_000.0}]}
                ]
            },
            step_s=3600,
        )  # fmt: skip

    return build


@pytest.mark.parametrize(("factor", "told"), [(1.0, False), (0.5, True)])
def test_pumps_that_cycle_and_are_seen_once_an_hour_give_each_day_another_share(cycling, found, factor, told):
    """A run of two hours and a half is seen two or three times; a meter at half is another matter."""
    assert [bool(found(cycling(seed, factor), ("disagrees",))) for seed in range(3)] == [told] * 3


def test_water_that_stands_in_the_tank_is_not_lost(works, found):
    """100 of 450 gpm stay in the basin for ten days; its level says so."""
    assert found(works(fill_gpm=100.0), ("disagrees",)) == []


def test_a_loss_that_was_always_there_is_usual(works, found):
    """Wash water that no meter sees."""
    assert found(works(loss_gpm=40.0), ("disagrees",)) == []


@pytest.fixture(scope="module")
def pump(town, lively):
    """A pump that runs from 06:00 to 18:00 and the flow behind it."""

    def build(day=None, hours=6, dead=False, off_flow=0.0):
        count = 60 * DAY
        hour = (np.arange(count) / 4.0) % 24
        on = ((hour >= 6) & (hour < 18)).astype(float)
        flow = on * lively(9, 60, level=230.0, sd=4.0, grain=2.0, decimals=0)
        part = slice(50 * DAY + (24 if dead else 76), 50 * DAY + (24 if dead else 76) + hours * 4)
        if dead:
            flow[part] = 0.0
        flow[part] += off_flow
        return town(
            {"FIT-1": flow, "YS-1": on},
            day,
            tags={
                "FIT-1": {"measures": "flow", "unit": "gpm", "resolution": 1.0},
                "YS-1": {"measures": "state", "unit": "1"},
            },
            physics={"running": [{"flow": "FIT-1", "when": "YS-1 == 1"}]},
        )  # fmt: skip

    return build


def test_a_flow_through_a_pump_that_rests_is_told(pump, found, make):
    (finding,) = found(pump(off_flow=180.0), ("disagrees",))
    assert finding.tag == "FIT-1" and finding.reference == "state YS-1 == 1"
    assert finding.start == make.local(2026, 2, 20, 19)
    assert "not running" in finding.evidence and "180 gpm" in finding.evidence


def test_a_running_pump_that_moves_nothing_is_told(pump, found):
    (finding,) = found(pump(dead=True), ("disagrees",))
    assert "says running" in finding.evidence and "usual" in finding.evidence


def test_a_meter_that_is_recorded_on_change_denies_its_pump_as_well(pump, found, make):
    """Stuck at nothing it writes down its heartbeat alone, every four hours."""
    cases = pump(dead=True, hours=12)
    flow, last, kept = cases["FIT-1"].readings, (np.nan, -16), []
    for row, value in enumerate(flow["value"].to_list()):
        if not abs(value - last[0]) < 4.0 or row - last[1] >= 16:
            last = value, row
            kept.append(row)
    on_change = {"recording": "on change", "heartbeat_s": 4 * 3600.0, "step_s": 900}
    tag = make.tag(tag="FIT-1", measures="flow", unit="gpm", high=1e6, resolution=1.0, **on_change)
    cases["FIT-1"] = make.case(flow[kept], tag=tag, as_of=cases["FIT-1"].as_of)
    law = Physics.model_validate({"running": [{"flow": "FIT-1", "when": "YS-1 == 1"}]})
    (finding,) = found(with_neighbours(cases, law), ("disagrees",))
    assert "says running" in finding.evidence and "0 gpm" in finding.evidence


def test_starts_and_stops_add_up(pump, found):
    """Dead for three days: the hours of rest in between, with no flow as it should be, do not part it."""
    (finding,) = found(pump(dead=True, hours=72), ("disagrees",))
    assert finding.end - finding.start > timedelta(days=2)


@pytest.mark.parametrize(("off_flow", "hours"), [(180.0, 1), (15.0, 8), (0.0, 6)])
def test_a_short_or_small_flow_is_none(pump, found, off_flow, hours):
    """A check valve that leaks, a meter's zero, the minutes of a start."""
    assert found(pump(off_flow=off_flow, hours=hours), ("disagrees",)) == []


def test_a_valve_that_closes_slowly_is_none(town, found, lively):
    """Half an hour after each of six stops a day one reading still shows some flow."""
    count = 60 * DAY
    at = np.arange(count) % 16
    on = (at < 8).astype(float)
    flow = np.round(on * 230.0 + 60.0 * ((at >= 8) & (at <= 10)) + lively(9, 60, level=3.0, sd=0.5), 0)
    physics = {"running": [{"flow": "FIT-1", "when": "YS-1 == 1"}]}
    tags = {"FIT-1": {"measures": "flow", "unit": "gpm"}, "YS-1": {"measures": "state", "unit": "1"}}
    assert found(town({"FIT-1": flow, "YS-1": on}, tags=tags, physics=physics), ("disagrees",)) == []


@pytest.fixture(scope="module")
def loop(town, make):
    """A chlorine analyser that a controller holds at 0.8 mg/L by feeding as much as the water uses up."""

    def build(drift_mg_l=0.0, raised_mg_l=0.0, thirst=0.0, day=None, grabs=0):
        count = DAYS * DAY
        random = np.random.default_rng(10)
        raised = np.where(np.arange(count) >= FAULT, raised_mg_l, 0.0)
        shown = 0.8 + raised + random.normal(0, 0.01, count)
        ramp = np.clip((np.arange(count) - 80 * DAY) / (40 * DAY), 0, 1) * drift_mg_l
        used = 0.6 * (1 + thirst * (np.arange(count) >= FAULT)) * (1 + make.noise(random, count, 0.99, 0.03))
        flow = 450.0 * (1 + make.noise(random, count, 0.98, 0.1))
        feed = flow * (0.8 + raised - ramp + used) * 0.01
        days = range(81, DAYS, 7)
        stamps = [make.local(2026, 1, 1) + timedelta(days=k, hours=9) for k in days]
        lab = make.events(stamps, [0.8 - ramp[k * DAY] for k in days]) if grabs else None
        return town(
            {"AIT-1": np.round(shown, 2), "FIT-1": np.round(feed, 3), "FIT-2": np.round(flow, 0)},
            day,
            tags={
                "AIT-1": {"measures": "chlorine", "unit": "mg/L", "high": 5.0},
                "FIT-1": {"measures": "feed", "unit": "gph"},
                "FIT-2": {"measures": "flow", "unit": "gpm"},
            },
            tolerances={"AIT-1": {"tolerance": 0.1}},
            grabs={"AIT-1": lab},
            physics={"feed_pace": [{"analyser": "AIT-1", "feed": "FIT-1", "flow": "FIT-2"}]},
        )  # fmt: skip

    return build


def test_a_held_analyser_that_drifts_shows_in_its_feed(loop, found):
    """Reads 0.4 mg/L low in the end: the water gets 0.4 mg/L more, the analyser shows the same."""
    said = [one for one in found(loop(-0.4), ("disagrees",)) if one.severity != "note"]
    assert [one.tag for one in said] == ["AIT-1"]
    assert "reads low" in said[0].evidence and "take a grab" in said[0].evidence
    assert said[0].estimate is None  # nobody can name the error from inside the loop


def test_a_raised_set_point_is_no_drift_of_the_analyser(loop, found):
    """0.45 mg/L more are shown, and a third more is fed."""
    assert found(loop(raised_mg_l=0.45), ("disagrees",)) == []


def test_grabs_clear_an_analyser_whose_water_uses_up_more(loop, found):
    """A warm spell: a third more is fed. Two grabs find what the analyser shows."""
    said = found(loop(thirst=0.8, grabs=1), ("disagrees",))
    assert all(not one.is_open for one in said)
    assert [one.is_open for one in found(loop(thirst=0.8), ("disagrees",))] == [True]


def test_a_pace_that_holds_says_nothing(loop, found):
    assert found(loop(), ("disagrees",)) == []


CASES = {
    "base pressure": ("tank", {"error_ft": -6.0}),
    "water balance": ("works", {"factor": {"FIT-0": 1.25}}),
    "running": ("pump", {"off_flow": 180.0}),
    "feed pace": ("loop", {"drift_mg_l": -0.4}),
}


@pytest.mark.parametrize("name", CASES)
def test_it_looks_the_same_from_any_later_day(name, found, request):
    fixture, given = CASES[name]
    build = request.getfixturevalue(fixture)
    whole = {one.finding_id for one in found(build(**given), ("disagrees",))}
    assert whole
    days = LATER if name != "running" else [date(2026, 2, 1) + timedelta(days=k) for k in range(18, 23)]
    for day in days:
        known = {one.finding_id for one in found(build(**given, day=day), ("disagrees",))}
        assert known == {one for one in whole if one[-10:] < day.isoformat()}, day
