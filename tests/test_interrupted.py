"""Killed at any moment, or out of disk: the next run leaves the archive as if nothing had happened."""

import errno
import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

import pipeline
from benchmarks.kill import NOW, archive_of, kill_and_heal, plant_with_many_files, undisturbed
from pipeline.config.load import Plant, load
from pipeline.errors import StillwellError
from pipeline.intake import take_in

KILLS = 20
"""In the suite; ``python -m benchmarks.kill`` kills 200 times."""


@pytest.mark.slow
def test_killed_at_random_points_and_run_again(tmp_path: Path) -> None:
    plant = plant_with_many_files(tmp_path / "plant")
    expected, seconds = undisturbed(plant, tmp_path / "undisturbed")
    wrong, killed = kill_and_heal(plant, tmp_path / "killed", expected, KILLS, seconds)
    assert wrong == []
    assert killed >= KILLS // 4


def test_two_processes_at_once(tmp_path: Path) -> None:
    """One writes; the other is told so, or comes after it; the archive is the same."""
    plant = plant_with_many_files(tmp_path / "plant")
    expected, _ = undisturbed(plant, tmp_path / "undisturbed")
    code = (
        "import sys; from pathlib import Path; from datetime import datetime\n"
        "from pipeline.config.load import load; from pipeline.intake import take_in\n"
        "from pipeline.errors import BusyError\n"
        "try: take_in(load(Path(sys.argv[1])), now=datetime.fromisoformat(sys.argv[2]))\n"
        "except BusyError: sys.exit(7)\n"
    )
    run = [sys.executable, "-c", code, str(plant), NOW.isoformat()]
    root = Path(pipeline.__file__).parent.parent
    both = [subprocess.Popen(run, cwd=root) for _ in range(2)]
    statuses = sorted(process.wait() for process in both)
    assert statuses in ([0, 7], [0, 0])
    assert archive_of(plant) == expected


class _FullDisk:
    """From the `start`-th write to the archive on, nothing more fits, for as long as it lasts."""

    def __init__(self, start: int, lasts: int) -> None:
        self.start, self.lasts, self.calls = start, lasts, 0

    def __call__(self) -> None:
        self.calls += 1
        if self.start <= self.calls < self.start + self.lasts:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


def _with_full_disk(patch: pytest.MonkeyPatch, full: _FullDisk) -> None:
    """Every file of the archive is synced and swapped by `replace_file`; each may find no room."""
    from pipeline.archive import atomic

    sync, replace = atomic._sync, Path.replace

    def syncing(path: Path) -> None:
        full()
        sync(path)

    def replacing(path: Path, target: Path) -> Path:
        full()
        return replace(path, target)

    patch.setattr(atomic, "_sync", syncing)
    patch.setattr(Path, "replace", replacing)


@pytest.mark.parametrize("lasts", [1, 10_000])
def test_no_space_left_at_any_write(tmp_path: Path, lasts: int) -> None:
    plant = plant_with_many_files(tmp_path / "plant", files=3)
    expected, _ = undisturbed(plant, tmp_path / "undisturbed")
    for start in range(1, 400):
        folder = tmp_path / f"full-{start}"
        shutil.copytree(plant, folder)
        full = _FullDisk(start, lasts)
        with pytest.MonkeyPatch.context() as patch:
            _with_full_disk(patch, full)
            try:
                take_in(load(folder), now=NOW)
                finished = True
            except StillwellError as error:
                finished = False
                assert "the disk is full" in str(error)
        if not finished and lasts == 1:
            # There was room to take it back: the archive is as it was, which is empty.
            assert archive_of(folder) == {}
        assert not list((folder / "archive").rglob("*.part"))
        take_in(load(folder), now=NOW)
        assert archive_of(folder) == expected, start
        shutil.rmtree(folder)
        if finished:
            break
    assert finished and start > 10


@pytest.mark.skipif(
    not hasattr(os, "geteuid") or os.geteuid() != 0, reason="only root may mount a small disk"
)
def test_a_small_disk_that_runs_full(tmp_path: Path) -> None:
    plant = plant_with_many_files(tmp_path / "plant", files=6)
    expected, _ = undisturbed(plant, tmp_path / "undisturbed")
    need = sum(len(content) for content in expected.values())
    small = tmp_path / "small"
    small.mkdir()
    full = 0
    for share in (0.1, 0.3, 0.5, 0.7, 0.9, 3.0):
        size = max(4096 * 6, int(need * share) // 4096 * 4096)
        mount = ["mount", "-t", "tmpfs", "-o", f"size={size}", "none", str(small)]
        if subprocess.run(mount, check=False, capture_output=True).returncode:
            pytest.skip("a tmpfs cannot be mounted here")
        try:
            folder = tmp_path / f"plant-{share}"
            shutil.copytree(plant, folder)
            (folder / "archive").symlink_to(small)
            try:
                take_in(load(folder), now=NOW)
            except StillwellError as error:
                full += 1
                assert "the disk is full" in str(error)
                subprocess.run(["mount", "-o", "remount,size=64m", str(small)], check=True)
                take_in(load(folder), now=NOW)
            assert archive_of(folder) == expected, share
        finally:
            subprocess.run(["umount", str(small)], check=True)
    assert full >= 2


@pytest.mark.parametrize("end", ["", "\n"])
def test_a_file_with_an_unfinished_last_line_is_left_while_it_is_fresh(
    make_plant: Callable[..., Plant], end: str
) -> None:
    plant = make_plant(a="Time,AIT-2\n2026-01-05 00:00,1.0\n2026-01-05 00:15,1." + end)
    (first,) = take_in(plant, now=NOW).outcomes
    assert first.status == ("read" if end else "left")
    path = plant.folder / "trends/a.csv"
    os.utime(path, (path.stat().st_mtime - 60,) * 2)
    (second,) = take_in(plant, now=NOW).outcomes
    assert second.status == ("known" if end else "read")


def test_a_file_that_grows_while_it_is_read_is_left(
    make_plant: Callable[..., Plant], monkeypatch: pytest.MonkeyPatch
) -> None:
    import pipeline.batch as batch

    plant = make_plant(a="Time,AIT-2\n2026-01-05 00:00,1.0\n")
    path = plant.folder / "trends/a.csv"
    read = batch.read_slabs

    def and_grow(*arguments: object, **options: object) -> str:
        layout = read(*arguments, **options)  # type: ignore[arg-type]
        with path.open("a") as file:
            file.write("2026-01-05 00:15,1.1\n")
        return layout

    with monkeypatch.context() as patch:
        patch.setattr(batch, "read_slabs", and_grow)
        assert [one.status for one in take_in(plant, now=NOW).outcomes] == ["left"]
    assert archive_of(plant.folder) == {}
    (second,) = take_in(plant, now=NOW).outcomes
    assert second.delivery is not None and second.delivery.read == 2


def test_a_large_file_is_known_without_reading_it_and_read_when_it_changes(
    make_plant: Callable[..., Plant], monkeypatch: pytest.MonkeyPatch
) -> None:
    import pipeline.batch as batch

    monkeypatch.setattr(batch, "LARGE_BYTES", 1)
    text = "Time,AIT-2\n2026-01-05 00:00,1.0\n"
    plant = make_plant(a=text)
    path = plant.folder / "trends/a.csv"
    os.utime(path, (path.stat().st_mtime - 60,) * 2)
    take_in(plant, now=NOW)
    with monkeypatch.context() as patch:
        patch.setattr(batch, "digest_of", _fails)
        assert [one.status for one in take_in(plant, now=NOW).outcomes] == ["known"]
    path.write_text(text.replace("1.0", "2.0"))  # as many bytes
    (changed,) = take_in(plant, now=NOW).outcomes
    assert changed.delivery is not None and changed.delivery.superseded == 1


def _fails(*arguments: object) -> str:
    raise AssertionError("the file was read")
