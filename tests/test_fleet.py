"""Fleet: many plants, each by itself."""

import subprocess
import sys
from pathlib import Path

import pytest

from pipeline.demo.plant import make_plant

REPOSITORY = Path(__file__).resolve().parents[1]


def _fleet(*words: object) -> "subprocess.CompletedProcess[str]":
    command = [sys.executable, "-m", "pipeline.cli", "fleet", *map(str, words)]
    return subprocess.run(command, capture_output=True, encoding="utf-8", check=False, cwd=REPOSITORY)


@pytest.fixture(scope="module")
def plants(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """Two small plants: one whose newest export is half written, one sound."""
    folder = tmp_path_factory.mktemp("fleet")
    for number in (1, 2):
        make_plant(folder / f"plant {number}", weeks=3, seed=number, step_minutes=15)
    damaged = folder / "plant 1/sample_exports/trends/readme.csv"
    damaged.write_text("no export at all\n")
    return folder / "plant 1", folder / "plant 2"


def test_a_plant_that_fails_stops_no_other(plants: tuple[Path, Path], tmp_path: Path) -> None:
    """The exit status is the worst of theirs: 3 some input was refused, 2 a plant that is not there."""
    refused, sound = plants
    done = _fleet(refused, tmp_path / "nowhere", sound, "--workers", "2")
    lines = done.stdout.strip().splitlines()[-3:]
    assert lines[0] == f"{refused}: done, with something refused"
    assert lines[1].startswith(f"{tmp_path / 'nowhere'}: not done (status 2)")
    assert "no such folder" in lines[1]
    assert lines[2] == f"{sound}: done"
    assert done.returncode == 3
    assert "readme.csv" in done.stderr
    for plant in plants:
        assert len(list(plant.glob("reports/20*/weekly.html"))) == 1


def test_it_makes_what_run_makes(plants: tuple[Path, Path], tmp_path: Path) -> None:
    """The same plant, run by itself: the same findings and limits."""
    make_plant(tmp_path / "alone", weeks=3, seed=2, step_minutes=15)
    command = [sys.executable, "-m", "pipeline.cli", "--plant", str(tmp_path / "alone"), "run"]
    subprocess.run(command, capture_output=True, check=True, cwd=REPOSITORY)
    (alone,), (together,) = (list(plant.glob("reports/20*")) for plant in (tmp_path / "alone", plants[1]))
    for name in ("findings.csv", "limits.csv", "excursions.csv", "calibration-list.csv"):
        assert (alone / name).read_bytes() == (together / name).read_bytes()
