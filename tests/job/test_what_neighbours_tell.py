"""Faults put into the demo's healthy record that only other instruments can tell, and whom they point at."""

from datetime import date

import numpy as np
import pytest

from pipeline.demo.water import Signals
from pipeline.finding import Finding
from pipeline.judge import find_all, settings_of
from tests.job.healthy import World

BEGIN = "2026-09-14T08:00"
TOLD_BY = date(2026, 9, 18)
"""Three whole days after it began, whatever the hour."""

TANKS = ("LIT-301", "LIT-302", "PIT-301")
FILTERS = (
    "FIT-101", "FIT-121", "FIT-122", "FIT-123", "FIT-124", "YS-121", "YS-122", "YS-123", "YS-124",
    "FIT-131", "YS-131", "YS-132", "LIT-131",
)  # fmt: skip
SEWAGE = ("FIT-501", "FIT-541", "LIT-511", "LIT-512", "LIT-513")
BOOSTER = ("FIT-311", "YS-311")


@pytest.fixture(scope="module")
def world() -> World:
    return World()


def _said(world: World, names: tuple[str, ...], shown: Signals) -> list[Finding]:
    every = find_all(world.some(names, shown), settings_of(world.plant))
    return [one for one in every if one.kind == "disagrees"]


def _after(world: World, name: str, factor: float = 1.0, offset: float = 0.0) -> Signals:
    later = world.calendar.hours_since(BEGIN) >= 0.0
    values = world.shown[name]
    return {name: np.where(later, values * factor + offset, values)}


@pytest.mark.parametrize("names", [TANKS, FILTERS, SEWAGE, BOOSTER])
def test_healthy_neighbours_agree_for_sixty_weeks(world: World, names: tuple[str, ...]) -> None:
    assert _said(world, names, {}) == []


def test_a_tank_level_at_odds_with_its_twin_and_with_the_pressure_is_the_one(world: World) -> None:
    """The twin and the gauge have nothing in common but this level."""
    said = _said(world, TANKS, _after(world, "LIT-302", offset=-7.0))
    pressing = [one for one in said if one.severity != "note" and one.is_open]
    assert {one.tag for one in pressing} == {"LIT-302"}
    assert {one.reference for one in pressing} == {"twin LIT-301", "base pressure PIT-301"}
    for one in pressing:
        assert one.ci_low <= -7.0 <= one.ci_high
        assert "at odds with other instruments" in one.evidence
    assert min(one.crossed for one in pressing) <= TOLD_BY


def test_what_a_level_did_in_spring_does_not_accuse_it_in_autumn(world: World) -> None:
    spring = world.calendar.window("2026-04-06T00:00", "2026-04-16T00:00")
    level = world.shown["LIT-302"].copy()
    level[spring] -= 7.0
    said = _said(world, TANKS, {"LIT-302": level, **_after(world, "PIT-301", offset=4.0)})
    late = [one for one in said if one.crossed > date(2026, 9, 1)]
    assert late and not any("at odds with other instruments" in one.evidence for one in late)


def test_a_pressure_is_told_in_its_own_unit(world: World) -> None:
    said = _said(world, TANKS, _after(world, "PIT-301", offset=4.0))
    by_tag = {one.tag: one for one in said}
    assert set(by_tag) == {"LIT-302", "PIT-301"}
    assert by_tag["PIT-301"].ci_low <= 4.0 <= by_tag["PIT-301"].ci_high
    # 4 psi is 9.2 ft of water.
    assert by_tag["LIT-302"].estimate == pytest.approx(-9.2, abs=1.5)


def test_the_flume_that_reads_a_quarter_high(world: World) -> None:
    (finding,) = _said(world, SEWAGE, _after(world, "FIT-541", factor=1.25))
    assert finding.reference == "water balance sewage and effluent"
    assert {finding.tag, *finding.others} == set(SEWAGE)
    assert finding.crossed <= TOLD_BY


def test_a_raw_water_meter_at_odds_with_the_filters_and_with_the_clearwell(world: World) -> None:
    said = [one for one in _said(world, FILTERS, _after(world, "FIT-101", factor=0.8)) if one.is_open]
    assert {one.tag for one in said} == {"FIT-101"}
    for one in said:
        # Shows four fifths of what there is: a quarter of what it shows is missing.
        assert one.estimate == pytest.approx(-0.25 * 0.8 * np.median(world.shown["FIT-101"]), rel=0.2)


def test_a_booster_that_runs_while_its_state_says_off(world: World) -> None:
    broken = {"YS-311": world.shown["YS-311"].copy()}
    part = world.calendar.window(BEGIN, "2026-09-16T08:00")
    broken["YS-311"][part] = 0.0
    (finding,) = _said(world, BOOSTER, broken)
    assert finding.tag == "FIT-311" and "not running" in finding.evidence
