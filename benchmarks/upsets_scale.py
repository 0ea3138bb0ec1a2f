"""Scale of upsets: ten years of sixty tags, and how long an engineer waits for an answer out of them."""

import subprocess
import sys
import tempfile
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import polars as pl

from benchmarks.results import Figure, today
from pipeline.archive.areas import note_areas
from pipeline.archive.ledger import Delivery, write_ledger
from pipeline.archive.parquet import write_readings
from pipeline.archive.paths import month_path
from pipeline.epoch import epoch_us
from pipeline.table import LONG, conform

COMMAND = "python -m benchmarks.upsets --scale"
REPOSITORY = Path(__file__).resolve().parents[1]
AREAS, TAGS_AN_AREA, YEARS = 6, 10, 10
START = datetime(2016, 1, 1, tzinfo=UTC)
END = datetime(2016 + YEARS, 1, 1, tzinfo=UTC)
STEP = timedelta(minutes=15)
EVERY_DAYS, LASTS = 23, 40
"""One upset in so many days, each of so many quarter hours."""
ROUNDS = 3

MEASURE = """
import resource, subprocess, sys, time
start = time.perf_counter()
done = subprocess.run(sys.argv[1:], capture_output=True, text=True)
used = resource.getrusage(resource.RUSAGE_CHILDREN)
busy = used.ru_utime + used.ru_stime
print(done.returncode, time.perf_counter() - start, used.ru_maxrss / 1024, busy)
print(done.stdout[-20000:] if done.returncode == 0 else done.stderr[-2000:])
"""


def make_plant(folder: Path) -> None:
    """Write config and archive: a course over the day, wandering noise, an upset now and then."""
    (folder / "config").mkdir(parents=True)
    (folder / "config" / "plant.toml").write_text(_toml(), encoding="utf-8")
    rows = [
        f"A{area}-{k},area{area},temperature,degC,0.01" for area in range(AREAS) for k in range(TAGS_AN_AREA)
    ]
    text = "tag,area,measures,unit,resolution\n" + "\n".join(rows) + "\n"
    (folder / "config" / "tags.csv").write_text(text, encoding="utf-8")
    (folder / "config" / "instruments.csv").write_text("instrument\n", encoding="utf-8")
    limit = "limit_id,tag,statistic,high\nHIGH,A0-0,instantaneous,16\n"
    (folder / "config" / "limits.csv").write_text(limit, encoding="utf-8")
    archive, areas = folder / "archive", {}
    for area in range(AREAS):
        for month, rows_of_month in _months(area):
            write_readings(month_path(archive, f"area{area}", month), rows_of_month)
        areas |= {f"A{area}-{k}": f"area{area}" for k in range(TAGS_AN_AREA)}
    note_areas(archive, areas)
    write_ledger(archive, list(_deliveries()))


def _toml() -> str:
    areas = "".join(f'[[area]]\nid = "area{k}"\nname = "Area {k}"\nplant = "water"\n' for k in range(AREAS))
    return f'name = "Ten years"\ntime_zone = "America/Denver"\n{areas}'


def _months(area: int) -> Iterator[tuple[str, pl.DataFrame]]:
    count = (END - START) // STEP
    first = epoch_us(START)
    stamps = pl.Series("time", first + np.arange(count, dtype=np.int64) * 900_000_000)
    time = stamps.cast(pl.Datetime("us", "UTC"))
    month = time.dt.strftime("%Y-%m")
    values = [_values(np.random.default_rng(100 * area + k), count, area) for k in range(TAGS_AN_AREA)]
    lengths = month.rle().struct.field("len").to_list()
    begin = 0
    for length in lengths:
        part = slice(begin, begin + length)
        frames = [
            pl.DataFrame({"time": time[part], "value": np.round(row[part], 2)}).with_columns(
                pl.lit(f"A{area}-{k}").alias("tag"),
                pl.lit("good").alias("quality"),
                pl.lit(None, pl.String).alias("raw"),
                pl.lit("made").alias("source"),
            )
            for k, row in enumerate(values)
        ]
        yield str(month[begin]), conform(pl.concat(frames), LONG)
        begin += length


def _values(random: np.random.Generator, count: int, area: int) -> np.ndarray:
    from scipy.signal import lfilter

    at = np.arange(count)
    noise = lfilter([np.sqrt(1 - 0.95**2)], [1.0, -0.95], random.standard_normal(count))
    value = 10 + np.sin(2 * np.pi * at / 96) + 0.5 * noise
    for number, begin in enumerate(range(96 * 120, count - LASTS, EVERY_DAYS * 96)):
        if (number + area) % 3 != 2:
            value[begin : begin + LASTS] += 4.0 * random.uniform(0.8, 1.2) * (1 if number % 2 else 1.6)
    return value


def _deliveries() -> Iterator[Delivery]:
    week, number = START, 0
    while week < END:
        after = min(week + timedelta(days=7), END)
        rows = AREAS * TAGS_AN_AREA * ((after - week) // STEP)
        yield Delivery(
            f"{number:012x}", f"week-{number}.csv", f"{number:064x}", 0, "columns", rows, rows, 0, 0, 0,
            week, after - STEP, after,
        )  # fmt: skip
        week, number = after, number + 1


def measured(folder: Path, *words: str) -> tuple[float, float, float, str]:
    """Wall time [s], peak memory [MiB], processor time [s] and output of a verb in a process of its own."""
    command = [sys.executable, "-c", MEASURE, sys.executable, "-m", "pipeline.cli", "--plant", str(folder)]
    done = subprocess.run([*command, *words], capture_output=True, text=True, check=True, cwd=REPOSITORY)
    first, _, told = done.stdout.partition("\n")
    code, seconds, mebibytes, busy = first.split()
    assert code == "0", told
    return float(seconds), float(mebibytes), float(busy), told


def scale() -> list[Figure]:
    """Make the archive and measure."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        make_plant(folder)
        listing = ("upset", "list", "--from", "2025-09-01", "--to", "2025-12-20", "--format", "csv")
        *_, told = measured(folder, *listing)
        upset_id = told.strip().splitlines()[-1].partition(",")[0]
        print(told)
        cold = measured(folder, "upset", "similar", upset_id)
        print("similar, cache empty", cold[:3])
        similar = [measured(folder, "upset", "similar", upset_id) for _ in range(ROUNDS)]
        stretch = ("upset", "window", "--from", "2025-06-01", "--to", "2025-06-03")
        window = [measured(folder, *stretch) for _ in range(ROUNDS)]
        print("similar", [one[:3] for one in similar], similar[0][3])
        print("window", [one[:3] for one in window])
    return [*_figures("similar", "windows like an upset, out of", similar),
            *_figures("window", "page of three days, out of", window),
            _figure("upset-scale-similar-first", "the same search with no cache yet", cold[0], "s", None, 1),
            _figure("upset-scale-first-memory", "its peak memory", cold[1], "MiB", 1024, 1)]  # fmt: skip


def _figures(name: str, what: str, rounds: list[tuple[float, float, float, str]]) -> list[Figure]:
    told = f"{what} {YEARS} years of {AREAS * TAGS_AN_AREA} tags"
    seconds, memory, busy = (min(one[k] for one in rounds) for k in range(3))
    return [
        _figure(f"upset-scale-{name}", f"{told}, wall time, best of {ROUNDS}", seconds, "s", 3, ROUNDS),
        _figure(f"upset-scale-{name}-cpu", f"{told}, processor time", busy, "s", 3, ROUNDS),
        _figure(f"upset-scale-{name}-memory", f"{told}, peak memory", memory, "MiB", 1024, ROUNDS),
    ]


def _figure(name: str, what: str, value: float, unit: str, target: float | None, n: int) -> Figure:
    return Figure(name, what, round(value, 2), unit, "lower", target, target, n, COMMAND, today())
