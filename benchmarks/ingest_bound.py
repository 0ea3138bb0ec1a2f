"""Ingest bound: what the libraries alone take of a bare copy's time, for the archive as it is.

``python -m benchmarks.ingest_bound`` (three minutes on two cores) reads the files of `benchmarks.ingest`
beside a bare copy, in turn, and does the least of what reading them takes: the CSV reader turns cells into
numbers, each distinct stamp is parsed in the one format that is known beforehand, readings are put tag by
tag, and the months are written by the archive's own writer, side by side. Which layout it is, what a cell
means that is no number, clocks, qualities, units, accounts, what was known before: nothing of that is done.
What `benchmarks.ingest` takes beyond this is our own code's.
"""

import tempfile
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from statistics import median

import numpy as np
import polars as pl

from benchmarks.ingest import AREAS, BARE, DAYS, ROUNDS, STAMP, TEXT, as_long, run, table, write
from benchmarks.results import Figure, record, today
from pipeline.archive.atomic import replace_file
from pipeline.archive.load import Alone
from pipeline.archive.parquet import Groups
from pipeline.ingest.slabs import Slab, ahead, slabs_of
from pipeline.table import LONG

COMMAND = "python -m benchmarks.ingest_bound"
TAGS = [f"AIT-{number:03d}" for number in range(60)]
MONTHS = np.arange(np.datetime64("2026-03"), np.datetime64("2026-08"))
_WRITERS = 3
_TEXTS = ("Time", "Tag", "Quality")
_NONE = np.array([], np.int64)
_CALL = """
import sys, time
from pathlib import Path
from benchmarks.ingest_bound import least
wall, cpu = time.perf_counter(), time.process_time()
least(Path(sys.argv[1]), Path(sys.argv[2]))
print(time.perf_counter() - wall, time.process_time() - cpu, 0, 0)
"""

Parts = dict[str, tuple[np.ndarray, np.ndarray]]
"""Times [microseconds] and values of each tag."""


def least(path: Path, archive: Path) -> None:
    """Read one file of the benchmark into months."""
    with path.open() as file:
        names = file.readline().rstrip("\n").split(",")
    part = _long if "Tag" in names else _wide
    with (
        path.open("rb") as stream,
        ahead(slabs_of(stream, False), lambda one: part(_cells(one, names))) as cut,
    ):
        slabs = list(cut)
    whole = {tag: _together([slab[tag] for slab in slabs]) for tag in TAGS}
    months = [(area, month) for area in range(len(AREAS)) for month in range(len(MONTHS) - 1)]
    with ThreadPoolExecutor(_WRITERS) as writers:
        list(writers.map(lambda month: _store(archive, *month, whole), months))


def _together(parts: list[tuple[np.ndarray, np.ndarray]]) -> tuple[np.ndarray, np.ndarray]:
    times, values = zip(*parts, strict=True)
    return np.concatenate(times), np.concatenate(values)


def _cells(slab: Slab, names: list[str]) -> pl.DataFrame:
    """Cells as numbers and times; lines without a time are dropped."""
    kinds = {name: pl.String() if name in _TEXTS else pl.Float64() for name in names}
    schema = pl.Schema(kinds)
    cells = pl.read_csv(slab.data, has_header=False, schema=schema, quote_char=None, ignore_errors=True)
    runs = cells["Time"].rle().struct.unnest()
    times = runs["value"].str.to_datetime(STAMP, time_unit="us", strict=False).to_physical()
    time = pl.Series("Time", np.repeat(times.fill_null(-1).to_numpy(), runs["len"].to_numpy()))
    cells = cells.with_columns(time)
    return cells.filter(time >= 0) if times.has_nulls() else cells


def _wide(cells: pl.DataFrame) -> Parts:
    time = cells["Time"].to_numpy()
    return {tag: (time, cells[tag].fill_null(np.nan).to_numpy()) for tag in TAGS}


def _long(cells: pl.DataFrame) -> Parts:
    code = cells["Tag"].cast(pl.Enum(TAGS)).to_physical().to_numpy().astype(np.uint8)
    order = np.argsort(code, kind="stable")
    time, value = cells["Time"].to_numpy()[order], cells["Value"].fill_null(np.nan).to_numpy()[order]
    ends = np.cumsum(np.bincount(code, minlength=len(TAGS))).tolist()
    places = zip(TAGS, [0, *ends], ends, strict=False)
    return {tag: (time[start:end], value[start:end]) for tag, start, end in places}


def _store(archive: Path, area: int, month: int, whole: Parts) -> None:
    bounds = MONTHS[month : month + 2].astype("datetime64[us]").view(np.int64)
    tags = [tag for number, tag in enumerate(TAGS) if number * len(AREAS) // len(TAGS) == area]

    def write_month(temporary: Path) -> None:
        with Groups(temporary, list(LONG)) as groups:
            for tag in tags:
                time, value = whole[tag]
                start, end = np.searchsorted(time, bounds)
                there = ~np.isnan(value[start:end])
                alone = Alone(time[start:end][there], value[start:end][there], _NONE, None)
                groups.add_load(tag, "0123456789ab", alone)

    replace_file(archive / AREAS[area] / f"{MONTHS[month]}.parquet", write_month)


def main() -> None:
    """Measure every file and record it."""
    figures: list[Figure] = []
    with tempfile.TemporaryDirectory() as name:
        for state in ("clean", "dirty"):
            wide = table(DAYS, len(TAGS), state == "dirty")
            for shape, rows in (("wide", wide), ("long", as_long(wide))):
                path = Path(name) / f"{shape}-{state}.csv"
                write(path, rows, state == "dirty")
                figures += _figures(shape, state, path)
                path.unlink()
    record(figures)


def _figures(shape: str, state: str, path: Path) -> list[Figure]:
    bare = BARE.replace("{options}", TEXT if state == "dirty" else "")
    found = []
    for number in range(ROUNDS):
        out = path.parent / f"{path.stem}-{number}"
        out.mkdir()
        found.append((run(bare, path, out / "bare.parquet"), run(_CALL, path, out / "archive")))
    print(shape, state, [[round(n, 2) for n in one[:2]] for both in found for one in both], flush=True)
    wall, cpu = (median(ours[place] / other[place] for other, ours in found) for place in (0, 1))
    what = f"over a bare copy, the libraries' part of reading, {shape}, {state}, 7.8 million readings"
    told = (("", "wall time", wall), ("-cpu", "processor time", cpu))
    return [
        Figure(
            f"ingest-bound-{shape}-{state}{ending}",
            f"{word} {what}",
            round(ratio, 2),
            "x",
            "lower",
            None,
            None,
            ROUNDS,
            COMMAND,
            today(),
        )
        for ending, word, ratio in told
    ]


if __name__ == "__main__":
    main()
