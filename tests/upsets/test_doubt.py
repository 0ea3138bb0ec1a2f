"""Doubt: what speaks for the water and what for the instrument."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from pipeline.clock import week_named
from pipeline.finding import Finding
from pipeline.investigate import happened, look_into
from tests.upsets import scenes
from tests.upsets.scenes import WEEK, at, staged


@pytest.fixture(scope="module")
def starved():
    """The scene of a chlorine analyser without sample flow, and its upset."""
    scene = staged(None, scenes.blocked_sample_line)
    (upset,) = happened(scene, week_named(WEEK, scene.plant.zone))
    return scene, upset


def finding(tag="AIT-131", kind="drift", verdict=""):
    return Finding(
        tag, "AE-131", kind, "act", date(2026, 11, 3), at("2026-11-01T00:00"), None, "own history",
        "reads low", "the membrane", verdict=verdict,
    )  # fmt: skip


def test_a_stuck_reading_of_the_only_tag_that_moved_makes_it_the_instrument(starved):
    told = look_into(*starved, [finding(kind="frozen")]).doubt
    assert told.verdict == "instrument"
    assert told.reasons == ("AIT-131 is itself in doubt (AIT-131.frozen.2026-11-03)",)


def without(scene, *measures):
    """Leave out all other tags that measure any of these."""
    cases = {
        name: case if name == "AIT-131" or case.tag.measures not in measures
        else replace(case, readings=case.readings.filter(False))
        for name, case in scene.cases.items()
    }  # fmt: skip
    return replace(scene, cases=cases)


def test_an_error_may_be_small_beside_what_happened(starved):
    """An analyser that reads a little low may still have seen the chlorine go."""
    scene, upset = starved
    told = look_into(without(scene, "chlorine", "feed"), upset, [finding()]).doubt
    assert told.verdict == "not told"
    assert told.reasons[1] == "AIT-131 is itself in doubt (AIT-131.drift.2026-11-03)"


@pytest.mark.parametrize("kind", ["spikes", "noisy", "rescaled", "drift"])
def test_what_begins_with_the_upset_is_the_upset(starved, kind):
    """Its own record alone says no more than that it went where it did not use to go."""
    scene, upset = starved
    inside = replace(finding(kind=kind), start=upset.start + timedelta(minutes=15))
    assert look_into(scene, upset, [inside]).doubt.findings == ()


def test_quiet_flows_and_levels_say_nothing_of_the_chlorine_in_the_water(starved):
    scene, upset = starved
    told = look_into(without(scene, "chlorine", "orp", "feed"), upset, []).doubt
    assert told.verdict == "not told"


@pytest.mark.parametrize(
    "changes", [{"kind": "gap"}, {"kind": "strayed"}, {"verdict": "dismissed"}, {"verdict": "process"}]
)
def test_a_gap_and_a_settled_finding_raise_no_doubt(starved, changes):
    assert look_into(*starved, [finding(**changes)]).doubt.findings == ()


def test_a_finding_beside_another_instrument_that_moved_leaves_it_the_water():
    scene = staged(scenes.no_chlorine)
    (upset,) = happened(scene, week_named(WEEK, scene.plant.zone))
    told = look_into(scene, upset, [finding()]).doubt
    assert told.verdict == "water"
    assert "AIT-131 is itself in doubt" in told.reasons[1]


def test_a_twin_that_kept_quiet_speaks_against_the_instrument(starved):
    scene, upset = starved
    case = scene.cases["AIT-131"]
    paired = replace(case, tag=case.tag.model_copy(update={"twin": "AIT-201"}))
    beside = replace(
        scene.cases["AIT-201"], tag=scene.cases["AIT-201"].tag.model_copy(update={"valid_when": ""})
    )
    cases = {**scene.cases, "AIT-131": paired, "AIT-201": replace(beside, readings=case.readings)}
    told = look_into(replace(scene, cases=cases), upset, []).doubt
    assert told.verdict == "instrument"
    assert told.reasons[0] == "its twin AIT-201 kept quiet"


def test_without_neighbours_nothing_can_be_told(starved):
    scene, upset = starved
    silent = {
        name: case if name == "AIT-131" else replace(case, readings=case.readings.filter(False))
        for name, case in scene.cases.items()
    }
    told = look_into(replace(scene, cases=silent), upset, []).doubt
    assert told.verdict == "not told"


def test_neighbours_of_which_nothing_usual_is_known_yet_are_no_witnesses(starved):
    scene, upset = starved
    unknown = np.full_like(scene.shapes.tenths, -128)
    told = look_into(replace(scene, shapes=replace(scene.shapes, tenths=unknown)), upset, []).doubt
    assert told.verdict == "not told"


def test_a_level_alone_may_well_be_the_water():
    def flooded(calendar, water):
        water["LIT-404"] += 6.0 * scenes.rises(calendar, "2026-11-05T10:00", 3, 0.3)

    scene = staged(flooded)
    (upset,) = happened(scene, week_named(WEEK, scene.plant.zone))
    told = look_into(scene, upset, []).doubt
    assert told.verdict == "not told"
    assert upset.end - upset.start > timedelta(hours=1)


def test_flows_that_stop_together_are_no_failing_of_their_meters():
    """A power cut: nothing is pumped, and all the meters say so at the foot of their spans."""
    scene = staged(scenes.power_cut)
    upset = max(happened(scene, week_named(WEEK, scene.plant.zone)), key=lambda one: len(one.tags))
    stopped = [tag for tag in upset.tags if scene.cases[tag].tag.measures in ("flow", "feed")]
    assert len(stopped) > 1
    pegged = [
        replace(finding(tag, "pegged"), start=upset.start, end=upset.end, reference="instrument's span")
        for tag in upset.tags
    ]
    told = look_into(scene, upset, pegged).doubt
    assert told.verdict == "water"
    assert {one.tag for one in told.findings}.isdisjoint(stopped)
