"""Setup as a whole: Harrow Fork's own exports, drafts that always pass the check, and files left alone."""

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pipeline.config.load import load
from pipeline.errors import RefusedError, UsageError
from pipeline.run import load_plant
from pipeline.setup.files import instrument_of
from pipeline.setup.names import label, tag_names
from pipeline.setup.table import table
from pipeline.setup.twins import alike
from pipeline.setup.write import setup

REPOSITORY = Path(__file__).resolve().parents[2]
EXPORTS = REPOSITORY / "sample_exports" / "trends"
SAMPLES = sorted((REPOSITORY / "tests" / "ingest" / "samples").glob("*"))
WIDE = "Time,FIT-101 (MGD),Pump\n" + "".join(
    f"2026-07-06 {k // 4:02d}:{k % 4 * 15:02d},{1 + k % 7 * 0.1:.1f},{'On' if k % 5 else 'Off'}\n"
    for k in range(96)
)


@pytest.fixture
def export(tmp_path):
    path = tmp_path / "plant" / "exports" / "a.csv"
    path.parent.mkdir(parents=True)
    path.write_text(WIDE, encoding="utf-8")
    return path


def test_a_small_export(tmp_path, export):
    done = setup(tmp_path / "plant", [export], "America/Denver", "Small town")
    plant = load_plant(tmp_path / "plant")
    assert (plant.name, plant.file.time_zone, plant.file.exports.trends) == (
        "Small town",
        "America/Denver",
        "exports",
    )
    flow, pump = plant.tags["FIT-101"], plant.tags["Pump"]
    assert (flow.name_in_export, flow.measures, flow.unit, flow.instrument) == (
        "FIT-101 (MGD)",
        "flow",
        "MGD",
        "FE-101",
    )
    assert (flow.low, flow.high, flow.resolution, flow.step_s) == (0.0, 5.0, 0.1, 900.0)
    assert (pump.measures, pump.states) == ("state", {"off": 0.0, "on": 1.0})
    assert plant.limits == {}
    assert done.folder == tmp_path / "plant" / "config"


def test_every_guess_is_marked_with_its_evidence(tmp_path, export):
    done = setup(tmp_path / "plant", [export])
    text = (done.folder / "plant.toml").read_text(encoding="utf-8")
    assert 'time_zone = "UTC"  # GUESS: nothing in the export tells the zone: give --time-zone' in text
    assert 'plant = "water"  # GUESS' in text
    words = load(tmp_path / "plant").tags["FIT-101"].description
    assert "GUESS" in words
    for evidence in ("the word 'mgd'", "the export says 'MGD'", "seen 1 to 1.6", "follow after 15 min"):
        assert evidence in words
    assert "FIT-101" in table(done.draft) and "time_zone = UTC" in table(done.draft)


def test_a_config_that_is_there_is_left_alone(tmp_path, export):
    plant = tmp_path / "plant"
    setup(plant, [export])
    mine = plant / "config" / "tags.csv"
    mine.write_text("mine", encoding="utf-8")
    assert setup(plant, [export]).folder == plant / "config-draft"
    assert mine.read_text(encoding="utf-8") == "mine"
    assert (plant / "config-draft" / "tags.csv").read_text(encoding="utf-8").startswith("tag,export_name")


def test_the_same_exports_give_the_same_bytes(tmp_path, export):
    drafts = [setup(tmp_path / name, [export], name="Same").folder for name in ("one", "two")]
    for name in ("plant.toml", "tags.csv", "instruments.csv", "limits.csv"):
        assert (drafts[0] / name).read_bytes() == (drafts[1] / name).read_bytes()


def test_what_cannot_be_read_costs_the_others_nothing(tmp_path, export):
    bad = export.with_name("b.csv")
    bad.write_bytes(b"%PDF-1.7 not a table")
    done = setup(tmp_path / "plant", [export.parent])
    assert [fault.file for fault in done.faults] == [bad.as_posix()]
    assert len(done.draft.tags) == 2


def test_nothing_to_read_is_said(tmp_path, export):
    export.with_name("nothing-in-it").mkdir()
    with pytest.raises(UsageError, match="no export found"):
        setup(tmp_path / "plant", [tmp_path / "plant" / "exports" / "nothing-in-it"])
    with pytest.raises(UsageError, match="neither an IANA time zone"):
        setup(tmp_path / "plant", [export], "Mountain")
    export.write_text("Time,Note\n2026-07-06 00:00,all is well!\n", encoding="utf-8")
    with pytest.raises(RefusedError, match="no column of it holds readings"):
        setup(tmp_path / "plant", [export])


def test_harrow_fork_from_its_own_exports(tmp_path):
    """Two weeks of its exports, against the config that was written by hand."""
    weeks = sorted([*EXPORTS.glob("*2026-W40*"), *EXPORTS.glob("*2026-W41*")])
    setup(tmp_path / "plant", weeks, "America/Denver")
    drafted = {tag.name_in_export: tag for tag in load_plant(tmp_path / "plant").tags.values()}
    written = {tag.name_in_export: tag for tag in load(REPOSITORY).tags.values()}
    assert set(drafted) == set(written)
    for name, tag in written.items():
        assert drafted[name].is_state == tag.is_state, name
        if tag.recording == "interval":
            assert (drafted[name].recording, drafted[name].step_s) == ("interval", tag.step_s), name
    said = {name: tag for name, tag in drafted.items() if tag.measures not in ("analysis", "unknown")}
    assert {name: tag.measures for name, tag in said.items()} == {
        name: written[name].measures for name in said
    }
    assert len(said) >= 60


@pytest.mark.parametrize("sample", SAMPLES, ids=lambda path: path.name)
def test_a_draft_of_any_sample_passes_the_check(tmp_path, sample):
    try:
        setup(tmp_path / "plant", [sample])
    except RefusedError:
        return
    load_plant(tmp_path / "plant")


HEADERS = st.text(
    st.characters(codec="utf-8", exclude_characters="\r\n\0\x1a", exclude_categories=["Cs"]), max_size=20
)
CELLS = st.one_of(
    st.floats(allow_nan=False, width=32).map(str),
    st.integers(-5, 5).map(str),
    st.sampled_from(["On", "Off", "", "NA", "<0.02", "-99", "text, with comma", '"', "#N/A"]),
)


@settings(max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(st.data())
def test_a_draft_of_anything_passes_the_check(tmp_path_factory, data):
    import csv

    folder = tmp_path_factory.mktemp("any")
    headers = data.draw(st.lists(HEADERS, min_size=1, max_size=5))
    rows = data.draw(
        st.lists(st.lists(CELLS, min_size=len(headers), max_size=len(headers)), min_size=1, max_size=12)
    )
    path = folder / "export.csv"
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow(["Time", *headers])
        writer.writerows([[f"2026-07-06 {k:02d}:00", *row] for k, row in enumerate(rows)])
    try:
        setup(folder / "plant", [path])
    except RefusedError:
        return
    load_plant(folder / "plant")


def test_names_are_words_that_a_condition_can_speak_of():
    names = tag_names(
        ["FIT-101 Raw flow (MGD)", "Raw turbidity", "101", "and", "Raw_turbidity", "FIT-7 PV", "FIT-7 SP"]
    )
    assert names == {
        "FIT-101 Raw flow (MGD)": "FIT-101",
        "Raw turbidity": "Raw_turbidity",
        "101": "T_101",
        "and": "T_and",
        "Raw_turbidity": "Raw_turbidity_2",
        "FIT-7 PV": "FIT-7_PV",
        "FIT-7 SP": "FIT-7_SP",
    }
    assert label("FIT-101 Raw flow (MGD)", "FIT-101") == "Raw flow"
    assert label("FIT-101", "FIT-101") == "FIT-101"


def test_a_point_of_entry_is_no_pressure_element():
    """`POE1`, the first point of entry, is spelled as an ISA-5.1 tag may be; the column keeps its name."""
    headers = ["CL2-POE1", "TURB_POE1", "WTP_FIT101", "WTP-FIT-1"]
    assert tag_names(headers) == {
        "CL2-POE1": "CL2-POE1",
        "TURB_POE1": "TURB_POE1",
        "WTP_FIT101": "FIT101",
        "WTP-FIT-1": "FIT-1",
    }


def test_the_instrument_behind_a_tag():
    """ISA-5.1: E is the primary element; the transmitter FIT-101 shows what the element FE-101 measures."""
    assert [instrument_of(tag) for tag in ("FIT-101", "PDIT-121", "AIT-102", "Raw_flow")] == [
        *("FE-101", "PDE-121", "AE-102", "Raw_flow"),
    ]


def test_copies_and_companions(signal):
    import numpy as np

    random = np.random.default_rng(3)
    one, other = np.cumsum(random.normal(0, 1, 300)), np.cumsum(random.normal(0, 1, 300))
    near = one + random.normal(0, 0.05, 300)
    columns = {
        "A": one,
        "Copy of A": one,
        "Near A": near,
        "B": other,
    }
    found = alike([signal([f"{v:.3f}" for v in values], name) for name, values in columns.items()])
    assert [(pair.first, pair.second, pair.is_copy) for pair in found] == [
        ("A", "Copy of A", True),
        ("A", "Near A", False),
        ("Copy of A", "Near A", False),
    ]
