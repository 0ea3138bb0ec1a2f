"""Write: a report folder is whole or not there, and only run.json knows when it was made."""

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from pipeline.report import write
from pipeline.report.write import recover, write_report
from pipeline.week import Week
from tests.report.weeks import full_week, nasty_week, quiet_week

FILES = {
    "weekly.html",
    "calibration-list.html",
    "calibration-list.csv",
    "field-sheet.html",
    "field-sheet.csv",
    "service-intervals.csv",
    "upsets.csv",
    "findings.csv",
    "limits.csv",
    "excursions.csv",
    "coverage.csv",
    "run.json",
}


def content(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def test_the_folder_holds_the_promised_files_and_nothing_is_left_beside_it(tmp_path: Path) -> None:
    write_report(full_week(), tmp_path / "reports" / "2026-W46", {})
    assert {path.name for path in (tmp_path / "reports" / "2026-W46").iterdir()} == FILES
    assert [path.name for path in (tmp_path / "reports").iterdir()] == ["2026-W46"]


@pytest.mark.parametrize("make", [full_week, nasty_week])
def test_the_time_of_the_run_is_in_run_json_alone(make: Callable[[], Week], tmp_path: Path) -> None:
    write_report(make(), tmp_path / "one", {"made_at": "2026-11-16T05:00:00", "seconds": 4.1})
    write_report(make(), tmp_path / "two", {"made_at": "2026-11-17T06:30:00", "seconds": 9.9})
    one, two = content(tmp_path / "one"), content(tmp_path / "two")
    assert json.loads(one.pop("run.json"))["made_at"] != json.loads(two.pop("run.json"))["made_at"]
    assert one == two


def test_run_json_tells_what_made_it(tmp_path: Path) -> None:
    write_report(full_week(), tmp_path / "w", {"seconds": 4.1})
    run = json.loads((tmp_path / "w" / "run.json").read_text(encoding="utf-8"))
    assert list(run) == sorted(run)
    assert run["label"] == "2026-W46"
    assert run["period_start"] == "2026-11-09T00:00:00-07:00"
    assert run["config_hash"] == "3f9a01c27be4"
    assert [line["source"] for line in run["inputs"]] == ["9a41c07be213", "b0177de94a55"]
    rows = run["rows"]
    assert rows["read"] == rows["stored"] + rows["known"] + rows["superseded"] + rows["refused"] == 24_960
    assert run["counts"]["outside"] == 5
    assert run["seconds"] == 4.1


def test_a_second_report_takes_the_place_of_the_first(tmp_path: Path) -> None:
    write_report(full_week(), tmp_path / "w", {})
    write_report(quiet_week(), tmp_path / "w", {})
    assert "Quiet week" in (tmp_path / "w" / "weekly.html").read_text(encoding="utf-8")
    assert [path.name for path in tmp_path.iterdir()] == ["w"]


def test_a_report_that_fails_leaves_the_old_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write_report(full_week(), tmp_path / "w", {})
    before = content(tmp_path / "w")

    def fail(*_: object) -> str:
        raise RuntimeError("power cut")

    monkeypatch.setattr(write, "calibration_page", fail)
    with pytest.raises(RuntimeError):
        write_report(quiet_week(), tmp_path / "w", {})
    assert content(tmp_path / "w") == before
    monkeypatch.undo()
    write_report(quiet_week(), tmp_path / "w", {})
    assert [path.name for path in tmp_path.iterdir()] == ["w"]


def test_a_run_killed_between_two_renames_is_healed(tmp_path: Path) -> None:
    write_report(full_week(), tmp_path / "w", {})
    before = content(tmp_path / "w")
    (tmp_path / "w").rename(tmp_path / ".w.old")
    recover(tmp_path / "w")
    assert content(tmp_path / "w") == before
    assert not (tmp_path / ".w.old").exists()
