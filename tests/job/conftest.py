"""A plant folder made of the repository's own config and exports, run once for all tests that look at it."""

import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

REPOSITORY = Path(__file__).resolve().parents[2]

Stillwell = Callable[..., "subprocess.CompletedProcess[str]"]


@pytest.fixture(scope="session")
def stillwell() -> Stillwell:
    """Run the command as a user does: another process, its words and its exit status."""

    def run(plant: Path, *words: str) -> "subprocess.CompletedProcess[str]":
        command = [sys.executable, "-m", "pipeline.cli", "--plant", str(plant), *words]
        return subprocess.run(command, capture_output=True, text=True, check=False, cwd=REPOSITORY)

    return run


def copy_plant(folder: Path, keep: Callable[[str], bool] = lambda name: True) -> Path:
    """Copy config, lab and logbook, and the trend exports whose names `keep` wants; never the truth."""
    shutil.copytree(REPOSITORY / "config", folder / "config")
    exports = folder / "sample_exports"
    for name in ("lab", "logbook"):
        shutil.copytree(REPOSITORY / "sample_exports" / name, exports / name)
    (exports / "trends").mkdir()
    for path in sorted((REPOSITORY / "sample_exports" / "trends").iterdir()):
        if keep(path.name):
            shutil.copyfile(path, exports / "trends" / path.name)
    return folder


@pytest.fixture(scope="session")
def harrow_fork(tmp_path_factory: pytest.TempPathFactory, stillwell: Stillwell) -> Path:
    """The demo plant after its first run."""
    plant = copy_plant(tmp_path_factory.mktemp("plants") / "harrow-fork")
    done = stillwell(plant, "run")
    assert done.returncode == 0, done.stdout + done.stderr
    return plant


@pytest.fixture(scope="session")
def week(harrow_fork: Path) -> Path:
    """Folder of the newest report."""
    return harrow_fork / "reports" / "2026-W46"
