"""What happens to every plant puts no healthy instrument on the list.

Healthy instruments on the demo's water, sixty weeks of it, with all that people and weather do there:
seasons, a dry spell, other wells on duty, a raised set-point, a filter out of service. They stray by a third
of their tolerance between services, as healthy instruments do. No fault of the script is put in.
"""

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta

import numpy as np
import polars as pl
import pytest

from pipeline.case import Case
from pipeline.clock import Period, week_of
from pipeline.demo.calendar import instant
from pipeline.demo.noise import lag
from pipeline.demo.script import DOSE_RAISED, FILTER_2_OUT, OPERATIONS, WELL_SWITCH
from pipeline.finding import Finding
from pipeline.judge import find_all, judge, settings_of
from pipeline.triage import calibration_list, of_period
from tests.job.healthy import END, World

DRY = next(one for one in OPERATIONS if one.kind == "dry_spell")
RIVER_TO_WELLS = "2026-09-14T08:00"

SCENARIOS = {
    "the winter": ("2026-01-05", "2026-02-15"),
    "the spring": ("2026-03-02", "2026-06-14"),
    "the autumn": ("2026-08-31", "2026-11-15"),
    "a set-point change": (DOSE_RAISED[:10], "2026-07-12"),
    "a dry spell": (DRY.start[:10], "2026-08-23"),
    "other wells on duty": (WELL_SWITCH[:10], "2026-10-04"),
    "a filter out for maintenance": (FILTER_2_OUT[0][:10], "2026-11-15"),
}
"""First and last day of the weeks whose lists must be empty."""


@pytest.fixture(scope="module")
def world() -> World:
    return World()


@pytest.fixture(scope="module")
def cases(world: World) -> dict[str, Case]:
    return world.cases(world.shown, world.book)


@pytest.fixture(scope="module")
def findings(world: World, cases: dict[str, Case]) -> list[Finding]:
    return find_all(cases, settings_of(world.plant))


Listed = Callable[[list[Finding], dict[str, Case], list[Period]], list[tuple[str, str, str]]]


@pytest.fixture(scope="module")
def listed(world: World) -> Listed:
    """Day, tag and words of every entry of the calibration lists of some weeks."""
    nobody = world.book.verdicts.clear()

    def run(found: list[Finding], cases: dict[str, Case], weeks: list[Period]) -> list[tuple[str, str, str]]:
        said = []
        for week in weeks:
            entries, _ = calibration_list(of_period(found, week, nobody), cases)
            said += [(str(week.start.date()), one.finding.tag, one.finding.evidence) for one in entries]
        return said

    return run


@pytest.mark.parametrize("scenario", SCENARIOS)
def test_no_healthy_instrument_is_listed(
    world: World, cases: dict[str, Case], findings: list[Finding], listed: Listed, scenario: str
) -> None:
    assert listed(findings, cases, world.weeks(*SCENARIOS[scenario])) == []


def test_the_whole_job_says_the_same_of_its_newest_week(world: World, cases: dict[str, Case]) -> None:
    newest = week_of(END - timedelta(days=1), world.plant.zone)
    week = judge(world.plant, newest, cases, settings_of(world.plant), world.book.verdicts.clear())
    assert [one.finding.tag for one in week.entries] == []


def test_a_source_switch_from_river_to_wells(world: World, listed: Listed) -> None:
    """Harder, warmer in autumn, clearer water that uses up less chlorine, all on one morning.

    The pH rises by more than its tolerance, and stays; the lab finds the same water.
    """
    since = world.calendar.hours_since(RIVER_TO_WELLS)
    now = np.clip(since / 6.0, 0.0, 1.0)
    shown = dict(world.shown)
    shown["AIT-132"] = shown["AIT-132"] + 0.30 * now
    # The season goes out of the temperature, not the instrument's own grain.
    shown["TIT-131"] = shown["TIT-131"] - 0.9 * now * (lag(shown["TIT-131"], 72.0, world.calendar) - 11.5)
    shown["AIT-130"] = shown["AIT-130"] * (1 - 0.4 * now)
    shown["FIT-132"] = shown["FIT-132"] * (1 - 0.2 * now)
    at = pl.col("time") >= instant(RIVER_TO_WELLS) + timedelta(hours=6)
    grab = (
        pl.when(at & (pl.col("tag") == "AIT-132")).then(pl.col("value") + 0.30)
        .when(at & (pl.col("tag") == "AIT-130")).then(pl.col("value") * 0.6)
        .otherwise(pl.col("value"))
    )  # fmt: skip
    book = replace(world.book, grabs=world.book.grabs.with_columns(grab.alias("value")))
    cases = world.cases(shown, book)
    found = find_all(cases, settings_of(world.plant))
    assert listed(found, cases, world.weeks(RIVER_TO_WELLS[:10], "2026-11-15")) == []


@pytest.fixture(scope="module")
def without_power(world: World) -> Callable[[str, float], dict[str, Case]]:
    """Cases of the plant after nothing ran for some hours."""

    def cases(begin: str, hours: float) -> dict[str, Case]:
        since = world.calendar.hours_since(begin)
        out = (since >= 0) & (since < hours)
        stopped = {
            name for name, tag in world.plant.tags.items() if tag.measures in ("flow", "feed", "state")
        }
        shown = {name: np.where(out, 0.0, v) if name in stopped else v for name, v in world.shown.items()}
        return world.cases(shown, world.book)

    return cases


def test_a_power_cut_sends_nobody_to_the_flow_meters(
    world: World, listed: Listed, without_power: Callable[[str, float], dict[str, Case]]
) -> None:
    """Nothing runs, nothing flows (common practice, no source): one line while it lasts, none after it."""
    over = without_power("2026-11-03T02:00", 5.0)
    found = find_all(over, settings_of(world.plant))
    assert {one.tag for one in found if one.kind == "pegged"} >= {"FIT-101", "FIT-111", "FIT-501"}
    assert listed(found, over, world.weeks("2026-11-02", "2026-11-15")) == []
    lasting = without_power("2026-11-15T18:00", 9.0)
    found = find_all(lasting, settings_of(world.plant))
    ((_, _, said),) = listed(found, lasting, world.weeks("2026-11-09", "2026-11-15"))
    assert "So it is with 3 more tags from the same moment: power" in said


def _with_bench(world: World, tags: list[str], share: float) -> dict[str, Case]:
    """Return the cases where the bench finds a share more at some tags since the 5th of October."""
    off = (pl.col("time") >= instant("2026-10-05T00:00")) & pl.col("tag").is_in(tags)
    value = pl.when(off).then(pl.col("value") * (1.0 + share)).otherwise(pl.col("value"))
    return world.cases(world.shown, replace(world.book, grabs=world.book.grabs.with_columns(value)))


def test_a_bench_that_is_off_is_one_line(world: World, listed: Listed) -> None:
    """Reagent is the same for all grabs: no three analysers stray alike (common practice, no source)."""
    chlorine = ["AIT-131", "AIT-201", "AIT-301"]
    week = world.weeks("2026-11-09", "2026-11-15")
    cases = _with_bench(world, chlorine, 0.4)
    found = find_all(cases, settings_of(world.plant))
    assert {one.tag for one in found if one.reference == "lab grab" and one.listed} == set(chlorine)
    ((_, tag, said),) = listed(found, cases, week)
    others = " and ".join(one for one in chlorine if one != tag)
    assert f"So do {others} of late, all below: the bench may be what is off" in said
    cases = _with_bench(world, chlorine[:2], 0.4)
    apart = listed(find_all(cases, settings_of(world.plant)), cases, week)
    assert apart
    assert not any("the bench may be" in said for *_, said in apart), "two may well be the instruments"


def test_a_drift_among_them_is_listed(world: World, listed: Listed) -> None:
    """The same lists are not empty for everything: 0.6 pH too high after eight weeks."""
    since = world.calendar.hours_since("2026-09-14T08:00")
    shown = world.shown["AIT-132"] + 0.6 * np.clip(since / (8 * 168.0), 0.0, 1.0)
    changed = world.some(["AIT-132"], {"AIT-132": shown})
    found = find_all(changed, settings_of(world.plant))
    assert listed(found, changed, world.weeks("2026-09-14", "2026-11-15"))
