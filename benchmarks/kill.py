"""Kill: an ingest of many files, killed at random moments and run again, against one left alone.

``python -m benchmarks.kill`` kills 200 times (about twenty minutes) and records how many archives came out
otherwise than the undisturbed one, byte for byte; the target is none.
"""

import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

from benchmarks.results import Figure, record, today

REPOSITORY = Path(__file__).resolve().parents[1]
NOW = datetime(2026, 11, 16, 12, tzinfo=UTC)
KILLS = 200

_INGEST = """
import sys
from datetime import datetime
from pathlib import Path
import pipeline.batch as batch
from pipeline.config.load import load
from pipeline.intake import take_in
batch.PENDING_READINGS = 2000
plant = load(Path(sys.argv[1]))
print("go", flush=True)
take_in(plant, now=datetime.fromisoformat(sys.argv[2]))
"""
_PLANT = """
name = "Small plant"
time_zone = "America/Denver"
[exports]
trends = "trends"
lab = "lab"
logbook = "logbook"
[[area]]
id = "north"
name = "North"
plant = "water"
[[area]]
id = "south"
name = "South"
plant = "water"
"""


def plant_with_many_files(folder: Path, files: int = 12) -> Path:
    """Write a plant whose exports overlap, contradict each other and are partly unreadable."""
    (folder / "config").mkdir(parents=True)
    (folder / "trends").mkdir()
    (folder / "config/plant.toml").write_text(_PLANT)
    rows = [f"AIT-{n},{'north' if n % 2 else 'south'},ph,pH,0,14" for n in range(8)]
    (folder / "config/tags.csv").write_text("\n".join(["tag,area,measures,unit,low,high", *rows, ""]))
    (folder / "config/instruments.csv").write_text("instrument,kind,place\n")
    (folder / "config/limits.csv").write_text("limit_id,tag,high\n")
    dice = random.Random(1)
    for number in range(files):
        start = datetime(2026, 1, 20) + timedelta(days=3 * number)
        lines = ["Time," + ",".join(f"AIT-{n}" for n in range(9))]
        for step in range(100):
            when = start + timedelta(hours=step)
            cells = [dice.choice(["7.0", "7.1", "7.2", "Bad", "", "x"]) for _ in range(9)]
            lines.append(",".join([f"{when:%Y-%m-%d %H:%M}", *cells]))
        (folder / f"trends/{number:02d}.csv").write_text("\n".join([*lines, ""]))
    return folder


def archive_of(plant: Path) -> dict[str, bytes]:
    """Every file of the archive, but the lock and the cache of what was seen."""
    archive = plant / "archive"
    files = [
        path for path in archive.rglob("*") if path.is_file() and path.name not in (".lock", ".seen.csv")
    ]
    return {path.relative_to(archive).as_posix(): path.read_bytes() for path in sorted(files)}


def _ingest(plant: Path) -> "subprocess.Popen[str]":
    run = [sys.executable, "-c", _INGEST, str(plant), NOW.isoformat()]
    process = subprocess.Popen(run, cwd=REPOSITORY, stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None
    with process.stdout as said:
        assert said.readline() == "go\n"
    return process


def undisturbed(plant: Path, folder: Path) -> tuple[dict[str, bytes], float]:
    """Ingest a copy of `plant` in peace; return its archive and how long it took [s]."""
    shutil.copytree(plant, folder)
    process = _ingest(folder)
    start = time.perf_counter()
    assert process.wait() == 0
    return archive_of(folder), time.perf_counter() - start


def kill_and_heal(
    plant: Path, folder: Path, expected: dict[str, bytes], kills: int, seconds: float
) -> tuple[list[int], int]:
    """Kill `kills` ingests at random moments and run each again.

    Returns
    -------
    wrong : list of int
        The trials whose archive came out otherwise.
    killed : int
        How many were still running when they were killed.
    """
    dice = random.Random(2)
    wrong, killed = [], 0
    for trial in range(kills):
        shutil.copytree(plant, folder)
        process = _ingest(folder)
        time.sleep(dice.uniform(0, seconds))
        process.send_signal(signal.SIGKILL)
        killed += process.wait() == -signal.SIGKILL
        again = _ingest(folder)
        if again.wait() != 0 or archive_of(folder) != expected:
            wrong.append(trial)
        shutil.rmtree(folder)
    return wrong, killed


def main() -> None:
    """Kill 200 times and record the outcome."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        plant = plant_with_many_files(folder / "plant")
        expected, seconds = undisturbed(plant, folder / "undisturbed")
        wrong, killed = kill_and_heal(plant, folder / "killed", expected, KILLS, seconds)
    print(f"{killed} of {KILLS} were running when killed; wrong: {wrong}")
    what = f"archives other than the undisturbed one, of {KILLS} ingests killed ({killed} while running)"
    command = "python -m benchmarks.kill"
    record([Figure("ingest-killed", what, len(wrong), "", "lower", 0, 0, KILLS, command, today())])


if __name__ == "__main__":
    assert os.name != "nt", "Windows has no SIGKILL"
    main()
