"""The demo's config agrees with itself, and the project's own reader finds no fault in it."""

import re
import tomllib
from pathlib import Path

from pipeline.config.load import load
from pipeline.demo.sheets import Sheets, rows

# ISA-5.1: first letter = what is measured (A analysis, F flow, L level, P pressure, T temperature, Y event),
# then PD for a difference, then I(ndicator) T(ransmitter) or S (switch, state); three digits of the loop.
ISA_NAME = re.compile(r"^(?:[AFLPT]|PD)IT-\d{3}$|^YS-\d{3}$")


def plant_toml() -> dict[str, list[dict[str, str]]]:
    path = Path(__file__).parents[2] / "pipeline/demo/config/plant.toml"
    return tomllib.loads(path.read_text(encoding="utf-8"))


def test_the_projects_own_reader_accepts_it(plant: Path) -> None:
    assert len(load(plant).tags) == 77


def test_tags_are_named_as_the_standard_does(sheets: Sheets) -> None:
    assert [name for name in sheets.tags if not ISA_NAME.match(name)] == []


def test_names_in_the_export_are_unique(sheets: Sheets) -> None:
    assert len({tag.export_name for tag in sheets.tags.values()}) == len(sheets.tags)


def test_every_analogue_tag_has_its_own_instrument(sheets: Sheets) -> None:
    owned = sorted(tag.instrument for tag in sheets.tags.values() if tag.measures != "state")
    assert owned == sorted(sheets.instruments)


def test_areas_and_states_exist() -> None:
    plant = plant_toml()
    areas = {area["id"] for area in plant["area"]}
    states = {state["name"] for state in plant["state"]}
    for row in rows("tags.csv"):
        assert row["area"] in areas
        assert row["valid_when"] in {*states, ""}
    assert states == {row["valid_when"] for row in rows("tags.csv")} - {""}


def test_states_speak_of_tags(sheets: Sheets) -> None:
    for state in plant_toml()["state"]:
        assert set(re.findall(r"[A-Z]+-\d+", state["when"])) <= set(sheets.tags)


def test_limits_and_their_guards_agree(sheets: Sheets) -> None:
    guards = {
        row["instrument"]: set(filter(None, row["guards"].split("|"))) for row in rows("instruments.csv")
    }
    for limit in sheets.limits:
        tag = sheets.tags[limit["tag"]]
        # A count, a share or a log inactivation is in no tag's unit.
        by_itself = limit["statistic"] in ("instantaneous", "daily_mean", "daily_min", "daily_max")
        assert limit["unit"] == tag.unit or not by_itself
        assert (limit["limit_id"] in guards[tag.instrument]) == (limit["basis"] != "lab")
        assert limit["source"] or limit["clause"]
        if not by_itself:
            continue
        for side in filter(None, (limit["low"], limit["high"])):
            assert tag.low <= float(side) <= tag.high
    measured = {limit["limit_id"] for limit in sheets.limits if limit["basis"] != "lab"}
    assert set().union(*guards.values()) == measured


def test_twins_name_each_other() -> None:
    twin = {row["tag"]: row["twin"] for row in rows("tags.csv") if row["twin"]}
    assert twin
    assert all(twin[other] == tag for tag, other in twin.items())


def test_numbers_of_the_rules() -> None:
    """Of 40 CFR: 141.551 (0.3, 1 NTU), 141.72(b)(2) (0.2 mg/L), 143.3 (pH 6.5, 8.5), 141.65(a) (4 mg/L)."""
    limit = {row["limit_id"]: (row["low"], row["high"]) for row in rows("limits.csv")}
    assert limit["CFE-0.3"] == ("", "0.3")
    assert limit["CFE-1.0"] == ("", "1")
    assert limit["CL2-RULE"] == ("0.2", "")
    assert limit["PH-FIN"] == ("6.5", "8.5")
    assert limit["CL2-HIGH"] == ("", "4")


def test_tolerance_of_chlorine_is_that_of_the_method(sheets: Sheets) -> None:
    """EPA Method 334.0: within 0.1 mg/L or 15 % of the grab, whichever is larger."""
    analyser = sheets.instruments["AE-131"]
    for grab, allowed in ((0.2, 0.10), (0.5, 0.10), (1.0, 0.15), (2.0, 0.30), (4.0, 0.60)):
        assert abs(analyser.tolerance_at(grab) - allowed) < 1e-9
