"""Run: time and memory of the whole job on the sample exports, beside a bare read of the same files.

``python -m benchmarks.run`` (about two minutes) copies config and sample exports, runs ``stillwell run``
in a fresh process on an empty archive, then again with nothing new, and records wall time, peak memory and
the ratio to polars reading the same CSVs and writing them as Parquet without looking at them.
``--minute`` (five minutes, 700 MB of disk) makes the invented plant recorded every minute, fifteen times
as many readings, and one recorded every quarter hour, and runs the job on both in turn.
"""

import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from statistics import median

from benchmarks.results import Figure, record, today

REPOSITORY = Path(__file__).resolve().parents[1]
COMMAND = "python -m benchmarks.run"
ROUNDS = 3

MEASURE = """
import resource, subprocess, sys, time
start = time.perf_counter()
code = subprocess.run(sys.argv[1:], stdout=subprocess.DEVNULL).returncode
print(code, time.perf_counter() - start, resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024)
"""
BARE = """
import sys
from pathlib import Path
import polars as pl
out = Path(sys.argv[2])
for path in sorted(Path(sys.argv[1]).iterdir()):
    pl.scan_csv(path).sink_parquet(out / (path.stem + ".parquet"))
"""


def measured(*command: str) -> tuple[float, float]:
    """Wall time [s] and peak memory [MiB] of a command in a process of its own."""
    done = subprocess.run(
        [sys.executable, "-c", MEASURE, *command], capture_output=True, text=True, check=True, cwd=REPOSITORY
    )
    code, seconds, mebibytes = done.stdout.split()
    assert code == "0", done.stderr
    return float(seconds), float(mebibytes)


def one_round(folder: Path) -> dict[str, float]:
    """Measure a first run, a second run and the bare read, in one go on the same files."""
    plant, out = folder / "plant", folder / "bare"
    out.mkdir()
    shutil.copytree(REPOSITORY / "config", plant / "config")
    shutil.copytree(REPOSITORY / "sample_exports", plant / "sample_exports")
    job = (sys.executable, "-m", "pipeline.cli", "--plant", str(plant), "run")
    first, memory = measured(*job)
    second, _ = measured(*job)
    bare, _ = measured(sys.executable, "-c", BARE, str(plant / "sample_exports" / "trends"), str(out))
    page = plant / "reports" / "2026-W46" / "weekly.html"
    return {
        "first": first,
        "second": second,
        "memory": memory,
        "ratio": first / bare,
        "page": page.stat().st_size / 1e6,
    }


def every_minute() -> list[Figure]:
    """Measure the job on 60 weeks recorded every minute, beside the same recorded every quarter hour."""
    found = {}
    for step in ("15", "1"):
        with tempfile.TemporaryDirectory() as folder:
            job = (sys.executable, "-m", "pipeline.cli")
            subprocess.run([*job, "demo", folder, "--step", step], check=True, cwd=REPOSITORY)
            first = measured(*job, "--plant", folder, "run")
            found[step] = (*first, *measured(*job, "--plant", folder, "report"))
            print(step, found[step], flush=True)
    seconds, memory, again, least = found["1"]
    what = "60 weeks recorded every minute"
    longer = "over the same recorded every quarter hour (15 times fewer readings), wall time"
    return [
        _figure("scale-minute-first", f"first run on {what}, wall time", seconds, "s", None, 1),
        _figure("scale-minute-memory", "the same, peak memory", memory, "MiB", None, 1),
        _figure("scale-minute-report", f"a report of {what}, wall time", again, "s", None, 1),
        _figure("scale-minute-report-memory", "the same, peak memory", least, "MiB", None, 1),
        _figure("scale-minute-report-over-quarter", f"the same {longer}", again / found["15"][2], "x", 15, 1),
    ]


def main() -> None:
    """Measure `ROUNDS` times and record the medians (the largest memory)."""
    if "--minute" in sys.argv:
        record(every_minute())
        return
    rounds = []
    for _ in range(ROUNDS):
        with tempfile.TemporaryDirectory() as folder:
            rounds.append(one_round(Path(folder)))
            print(rounds[-1])
    middle = {key: median(one[key] for one in rounds) for key in rounds[0]}
    memory = max(one["memory"] for one in rounds)

    record(
        [
            _figure("run-first", "first run on 60 weeks of samples, wall time", middle["first"], "s", 60),
            _figure("run-memory", "the same, peak memory", memory, "MiB", 1024),
            _figure("run-second", "second run, nothing new", middle["second"], "s", 10),
            _figure("run-over-bare-read", "the same over a bare copy to Parquet", middle["ratio"], "x", None),
            _figure("report-page", "weekly.html of the demo's last week", middle["page"], "MB", 5),
        ]
    )


def _figure(name: str, what: str, value: float, unit: str, target: float | None, n: int = ROUNDS) -> Figure:
    command = f"{COMMAND} --minute" if name.startswith("scale-minute") else COMMAND
    return Figure(name, what, round(value, 2), unit, "lower", target, None, n, command, today())


if __name__ == "__main__":
    main()
