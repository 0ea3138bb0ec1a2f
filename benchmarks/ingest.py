"""Ingest: reading exports, beside a bare copy to Parquet and a pandas script, on the same files in one run.

``python -m benchmarks.ingest`` (fifteen minutes, 5 GB of disk) makes 60 tags at one minute over 90 days, 7.8
million readings, as one column a tag and as one line a reading, clean and dirty, with stamps such as
``01/05/2026 12:00:00 AM``. Three rounds, the three programs in turn, each in a process of its own; the clock
starts after the imports. Ratios are medians of the rounds' ratios. ``--quick`` leaves the long files out.
"""

import subprocess
import sys
import tempfile
from collections.abc import Callable
from datetime import datetime, timedelta
from os import sync, utime
from pathlib import Path
from statistics import median
from time import time

import numpy as np
import polars as pl

from benchmarks.results import Figure, record, today

REPOSITORY = Path(__file__).resolve().parents[1]
COMMAND = "python -m benchmarks.ingest"
ROUNDS = 3
DAYS = 90
START = datetime(2026, 3, 10)
"""After the clocks went forward, so that every minute was on them."""
STAMP = "%m/%d/%Y %I:%M:%S %p"
AREAS = ("a", "b", "c", "d", "e", "f")

_TIMED = """
import sys, time
from pathlib import Path
{imports}
wall, cpu = time.perf_counter(), time.process_time()
{work}
# Not ru_maxrss: that begins with what the parent held when it forked.
peak = int(Path("/proc/self/status").read_text().split("VmHWM:")[1].split()[0]) / 1024
print(time.perf_counter() - wall, time.process_time() - cpu, peak, {said})
"""
BARE = _TIMED.format(
    imports="import polars as pl",
    work="pl.scan_csv(sys.argv[1]{options}).sink_parquet(sys.argv[2])",
    said="0",
)
OURS = _TIMED.format(
    imports="""
import filelock, pyarrow.parquet
from pipeline.config.load import load
from pipeline.intake import take_in
plant = load(Path(sys.argv[2]))
""",
    work="intake = take_in(plant, [Path(sys.argv[1])])",
    said="intake.total('read')",
)
PANDAS = _TIMED.format(
    imports="import pandas as pd",
    work="""
rows = pd.read_csv(sys.argv[1], dtype=str, keep_default_na=False, on_bad_lines="skip")
if "Tag" not in rows:
    rows = rows.melt("Time", var_name="Tag", value_name="Value")
rows = rows[rows["Value"].notna() & (rows["Value"] != "") & (rows["Time"] != "Time")]
stamps = pd.to_datetime(rows["Time"].unique(), format="%m/%d/%Y %I:%M:%S %p", errors="coerce")
zoned = stamps.tz_localize("America/Denver", ambiguous="NaT", nonexistent="NaT").tz_convert("UTC")
rows["time"] = rows["Time"].map(pd.Series(zoned, index=rows["Time"].unique()))
rows["raw"] = rows["Value"]
rows["value"] = pd.to_numeric(rows["Value"].str.lstrip("<>"), errors="coerce")
rows["tag"] = rows["Tag"].astype("category")
rows = rows.dropna(subset=["time"]).drop_duplicates(["tag", "time"], keep="last").sort_values(["tag", "time"])
for month, part in rows.groupby(rows["time"].dt.strftime("%Y-%m")):
    part[["tag", "time", "value", "raw"]].to_parquet(f"{sys.argv[2]}/{month}.parquet", compression="zstd")
""",
    said="len(rows)",
)
TEXT = ", infer_schema=False, truncate_ragged_lines=True"
"""A bare copy of a dirty file is one of its text."""


def run(code: str, *arguments: Path) -> tuple[float, float, float, int]:
    """Run code in a process of its own: wall time [s], processor time [s], peak memory [MiB], readings."""
    names = [str(argument) for argument in arguments]
    sync()  # or the first to ask for its own files to last would wait for what others left in memory
    done = subprocess.run(
        [sys.executable, "-c", code, *names], capture_output=True, text=True, check=False, cwd=REPOSITORY
    )
    assert done.returncode == 0, done.stderr
    wall, cpu, peak, said = done.stdout.split()
    return float(wall), float(cpu), float(peak), int(said)


def plant(folder: Path, tags: int = 60) -> Path:
    """Write the config of a plant with `tags` tags in six areas."""
    (folder / "config").mkdir(parents=True)
    (folder / "trends").mkdir()
    areas = "".join(f'[[area]]\nid = "{area}"\nname = "{area}"\nplant = "water"\n' for area in AREAS)
    folders = '[exports]\ntrends = "trends"\nlab = "lab"\nlogbook = "logbook"\n'
    reading = '[reading]\ndate_order = "month_first"\n'
    text = f'name = "Bench"\ntime_zone = "America/Denver"\n{folders}{reading}{areas}'
    (folder / "config/plant.toml").write_text(text)
    rows = [f"AIT-{n:03d},{AREAS[n * len(AREAS) // tags]},ph,pH,0,100,60" for n in range(tags)]
    (folder / "config/tags.csv").write_text("\n".join(["tag,area,measures,unit,low,high,step_s", *rows, ""]))
    (folder / "config/instruments.csv").write_text("instrument,kind,place\n")
    (folder / "config/limits.csv").write_text("limit_id,tag,high\n")
    return folder


def table(days: float, tags: int, dirty: bool, start: datetime = START, seed: int = 1) -> pl.DataFrame:
    """One column a tag, as text: two or three decimals; dirty cells are bursts of Bad, blanks and limits."""
    dice = np.random.default_rng(seed)
    minutes = round(days * 1440)
    times = pl.datetime_range(start, start + timedelta(minutes=minutes - 1), "1m", eager=True)
    columns = {"Time": times.dt.strftime(STAMP)}
    for number in range(tags):
        wander = 50 + np.cumsum(dice.normal(0, 0.02, minutes)) + dice.normal(0, 0.05, minutes)
        column = pl.Series(np.round(wander, 2 + number % 2)).cast(pl.String)
        if dirty:
            column = _soiled(column, dice)
        columns[f"AIT-{number:03d}"] = column
    return pl.DataFrame(columns)


def _soiled(column: pl.Series, dice: np.random.Generator) -> pl.Series:
    """Half a percent Bad in bursts of an hour, three in a thousand blank, one in a thousand below a limit."""
    count = len(column)
    bursts = dice.integers(0, count - 60, max(1, count // 12_000))
    bad = np.unique((bursts[:, None] + np.arange(60)).ravel())
    column = column.scatter(bad, "Bad")
    column = column.scatter(dice.integers(0, count, count * 3 // 1000), "")
    return column.scatter(dice.integers(0, count, count // 1000), "<0.05")


def as_long(wide: pl.DataFrame) -> pl.DataFrame:
    """One line a reading, in the order of time, with OPC quality 192."""
    rows = wide.with_row_index("row").unpivot(index=["row", "Time"], variable_name="Tag", value_name="Value")
    return rows.sort("row", maintain_order=True).select("Tag", "Time", "Value", Quality=pl.lit("192"))


def write(path: Path, rows: pl.DataFrame, dirty: bool) -> None:
    """Write an export; a dirty one has a blank line a day, headers again, a last line cut off."""
    if not dirty:
        rows.write_csv(path, quote_style="never")
        return
    a_day = 1440 * max(1, round(rows.height / (1440 * DAYS)))
    with path.open("wb") as file:
        for day, start in enumerate(range(0, rows.height, a_day)):
            rows[start : start + a_day].write_csv(file, include_header=day % 10 == 0, quote_style="never")
            file.write(b"\n")
        file.seek(-8, 2)
        file.truncate()


def rounds(folder: Path, shape: str, state: str) -> list[dict[str, tuple[float, float, float, int]]]:
    """Run the three programs in turn on one file, ROUNDS times."""
    dirty = state == "dirty"
    path = folder / f"{shape}-{state}.csv"
    wide = table(DAYS, 60, dirty)
    write(path, as_long(wide) if shape == "long" else wide, dirty)
    an_hour_ago = time() - 3600
    utime(path, (an_hour_ago, an_hour_ago))  # a file touched just now may still be being written
    del wide
    found = []
    for number in range(ROUNDS):
        out = folder / f"out-{shape}-{state}-{number}"
        out.mkdir()
        bare = BARE.replace("{options}", TEXT if dirty else "")
        home = plant(folder / f"plant-{shape}-{state}-{number}")
        found.append(
            {
                "bare": run(bare, path, out / "bare.parquet"),
                "ours": run(OURS, path, home),
                "pandas": run(PANDAS, path, out),
            }
        )
        found[-1]["again"] = run(OURS, path, home)
        print(
            shape,
            state,
            {name: [round(n, 3) for n in value] for name, value in found[-1].items()},
            flush=True,
        )
        subprocess.run(["rm", "-rf", str(out), str(home)], check=True)
    path.unlink()
    return found


def memory_of_a_long_file(folder: Path, shape: str) -> float:
    """Peak memory [MiB] for a clean file ten times as long."""
    path = folder / f"{shape}-ten.csv"
    with path.open("wb") as file:
        for part in range(10):
            wide = table(DAYS, 60, False, datetime(2022, 1, 10) + timedelta(days=DAYS * part), part)
            rows = as_long(wide) if shape == "long" else wide
            rows.write_csv(file, include_header=part == 0)
    found = run(OURS, path, plant(folder / f"plant-{shape}-ten"))
    print(shape, "ten times", found, flush=True)
    path.unlink()
    return found[2]


def merge_of_a_week(folder: Path) -> list[float]:
    """Wall time [s] of reading a week, half of it new, into a month of 200 tags at one minute."""
    month = table(27, 200, False, datetime(2026, 5, 1))
    week = table(7, 200, False, datetime(2026, 5, 24), seed=2)
    found = []
    for number in range(ROUNDS):
        home = plant(folder / f"plant-week-{number}", 200)
        for name, rows in (("month", month), ("week", week)):
            rows.write_csv(home / f"trends/{name}.csv")
        run(OURS, home / "trends/month.csv", home)
        found.append(run(OURS, home / "trends/week.csv", home)[0])
        print("week", found[-1], flush=True)
    return found


def main() -> None:
    """Measure everything and record it."""
    figures: list[Figure] = []
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for shape in ("wide", "long"):
            for state in ("clean", "dirty"):
                figures += _figures(shape, state, rounds(folder, shape, state))
            if "--quick" not in sys.argv:
                peak = memory_of_a_long_file(folder, shape)
                what = f"peak memory, {shape}, clean, 78 million readings"
                figures.append(_figure(f"{shape}-ten-memory", what, peak, "MiB", 1000, 1))
        weeks = merge_of_a_week(folder)
        what = "reading a week (half new, half known or changed) into a month of 200 tags at 1 min"
        figures.append(_figure("merge-week", what, median(weeks), "s", 4, ROUNDS))
    record(figures)


def _figures(shape: str, state: str, found: list[dict[str, tuple[float, float, float, int]]]) -> list[Figure]:
    def ratio(other: str, place: int) -> float:
        return median(one["ours"][place] / one[other][place] for one in found)

    name, file = f"{shape}-{state}", f"{shape}, {state}, 7.8 million readings"
    peak: Callable[[str], float] = lambda program: max(one[program][2] for one in found)  # noqa: E731
    return [
        _figure(f"{name}-over-bare", f"wall time over a bare copy, {file}", ratio("bare", 0), "x", 2),
        _figure(
            f"{name}-over-bare-cpu", f"processor time over a bare copy, {file}", ratio("bare", 1), "x", None
        ),
        _figure(
            f"{name}-over-pandas", f"wall time over a pandas script, {file}", ratio("pandas", 0), "x", 0.5
        ),
        _figure(f"{name}-seconds", f"wall time, {file}", median(one["ours"][0] for one in found), "s", None),
        _figure(f"{name}-memory", f"peak memory, {file}", peak("ours"), "MiB", 700),
        _figure(
            f"{name}-known",
            f"reading it again, known, {file}",
            median(one["again"][0] for one in found),
            "s",
            0.1,
        ),
    ]


def _figure(name: str, what: str, value: float, unit: str, target: float | None, n: int = ROUNDS) -> Figure:
    return Figure(f"ingest-{name}", what, round(value, 2), unit, "lower", target, None, n, COMMAND, today())


if __name__ == "__main__":
    main()
