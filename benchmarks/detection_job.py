"""Job: a few simulated sensors through the real job, exports to findings.csv, beside the same in memory."""

import csv
import subprocess
import sys
import tempfile
from collections.abc import Iterable
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np
import polars as pl

from benchmarks.detection_counts import Row
from benchmarks.detection_work import settings
from benchmarks.families_cases import (
    SETTLE,
    STATE_TAG,
    VALID_WHEN,
    cases,
    grabs_of,
    instrument_of,
    readings_of,
    services_of,
    tag_of,
)
from benchmarks.families_sensors import START, ZONE, Order, Train
from benchmarks.families_train import train
from pipeline.clock import Period, week_named, week_of
from pipeline.judge import find_all
from pipeline.table import VERDICTS, empty
from pipeline.triage import of_period

SEED = 4711
SAMPLE = (
    Order("job", "ph", "weekly", "drift", 2.5, is_serviced=False),
    Order("job", "flow", "none", "stuck", 24.0, times=7),
    Order("job", "chlorine", "none", "drift", 5.0, is_serviced=False),
    Order("job", "turbidity", "daily", "fouling", 2.5, is_serviced=False),
    Order("job", "temperature", "weekly", "step", 3.0),
    Order("job", "ph", "none", "gap", 96.0, times=7),
    Order("job", "chlorine", "weekly", "out_of_range", 12.0, times=7),
    Order("job", "turbidity", "none", "pegged", 0.7),
    Order("job", "ph", "weekly", "stuck", 72.0, times=7),
    Order("job", "chlorine", "daily", "spikes", 30.0),
    Order("job", "turbidity", "weekly"),
    Order("job", "ph", "none"),
)
"""Faults of many kinds, some of them open at the end, and two healthy sensors."""

PLANT = f"""name = "Bench"
time_zone = "America/Denver"
week_starts = "monday"

[exports]
trends = "trends"
lab = "lab"
logbook = "logbook"

[[area]]
id = "train"
name = "Train"
plant = "water"

[[state]]
name = "running"
when = "{VALID_WHEN}"
settle_minutes = {SETTLE.seconds // 60}
"""
INSTRUMENT = ("instrument", "service_days", "tolerance", "tolerance_pct")
TAG = ("tag", "area", "measures", "unit", "low", "high", "resolution", "step_s", "recording",
       "heartbeat_s", "instrument")  # fmt: skip
ISO = "%Y-%m-%dT%H:%M:%SZ"


def write_plant(folder: Path, made: Train) -> None:
    """Write config, exports, lab and logbook of a train, as its plant would have them."""
    for name in ("config", "trends", "lab", "logbook"):
        (folder / name).mkdir(parents=True)
    (folder / "config" / "plant.toml").write_text(PLANT, encoding="utf-8")
    (folder / "config" / "limits.csv").write_text(
        "limit_id,tag,statistic,period,high,unit\n", encoding="utf-8"
    )
    instruments = [instrument_of(one) for one in made.sensors]
    _sheet(
        folder / "config" / "instruments.csv",
        INSTRUMENT,
        ([getattr(one, n) for n in INSTRUMENT] for one in instruments),
    )
    tags = [tag_of(one) for one in made.sensors]
    lines = [[*(getattr(tag, name) for name in TAG), "running"] for tag in tags]
    state = [STATE_TAG, "train", "state", "1", 0, 1, None, 900, "interval", None, "", ""]
    _sheet(folder / "config" / "tags.csv", (*TAG, "valid_when"), [*lines, state])
    _trends(folder / "trends", made)
    grabs = [grabs_of(one, made.time).with_columns(tag=pl.lit(one.name)) for one in made.sensors]
    pl.concat(grabs).select("tag", pl.col("time").dt.strftime(ISO), "value").write_csv(
        folder / "lab" / "lab.csv"
    )
    services = pl.concat([services_of(one, made.time) for one in made.sensors]).with_columns(
        pl.col("time").dt.strftime(ISO)
    )
    services.write_csv(folder / "logbook" / "calibrations.csv")


def _sheet(path: Path, columns: tuple[str, ...], lines: Iterable[list[object]]) -> None:
    with path.open("w", newline="", encoding="utf-8") as sheet:
        writer = csv.writer(sheet, lineterminator="\n")
        writer.writerow(columns)
        writer.writerows(["" if cell is None else cell for cell in line] for line in lines)


def _trends(folder: Path, made: Train) -> None:
    """Write one column a tag, a file every thirteen weeks; a finer tag has a file of its own."""
    finer = [one for one in made.sensors if one.between is not None]
    for one in finer:
        shown = readings_of(made.time, one)
        shown.select(
            pl.col("time").dt.strftime(ISO).alias("Time"), pl.col("value").alias(one.name)
        ).write_csv(folder / f"trends-{one.name}.csv")
    on_grid = [one for one in made.sensors if one.between is None]
    columns = [pl.Series(one.name, one.shown).fill_nan(None) for one in on_grid]
    when = made.time.dt.strftime(ISO).alias("Time")
    wide = pl.DataFrame([when, *columns, pl.Series(STATE_TAG, made.running.astype(np.int64))])
    for number, begin in enumerate(range(0, wide.height, 13 * 7 * 96)):
        wide[begin : begin + 13 * 7 * 96].write_csv(folder / f"trends-{number:02d}.csv")


def by_job(folder: Path, weeks: int) -> dict[str, set[tuple[str, ...]]]:
    """Run the job on a plant folder; return what findings.csv says in each of the newest weeks."""
    job = [sys.executable, "-m", "pipeline.cli", "--plant", str(folder)]
    subprocess.run([*job, "run"], check=True, capture_output=True)
    newest = sorted(path.name for path in (folder / "reports").iterdir() if path.is_dir())[-1]
    last = week_named(newest, ZONE)
    labels = [week_of(last.start - timedelta(days=7 * back - 2), ZONE).label for back in range(weeks)]
    for label in labels[1:]:
        subprocess.run([*job, "report", "--week", label], check=True, capture_output=True)
    return {label: _findings(folder / "reports" / label / "findings.csv") for label in labels}


def _findings(path: Path) -> set[tuple[str, ...]]:
    with path.open(encoding="utf-8") as sheet:
        return {
            (r["finding_id"], r["severity"], r["status"], r["start"], r["end"]) for r in csv.DictReader(sheet)
        }


def in_memory(made: Train, period: Period) -> set[tuple[str, ...]]:
    """Return what the checks say of a train in a week, without any file."""
    known = cases(made, (period.end.astimezone(ZONE).date() - START).days)
    found = of_period(find_all(known, settings()), period, empty(VERDICTS))
    return {
        (f.finding_id, f.severity, f.status, period.text(f.start), period.text(f.end) if f.end else "")
        for f in found
    }


def sample(family: str, sensors: int = len(SAMPLE)) -> Train:
    """Return a train of the first `sensors` of the sample."""
    return train(family, SEED, list(SAMPLE[:sensors]))


def agreement(family: str, weeks: int) -> Row:
    """Share of the findings of either way that the other says too, in the newest weeks."""
    what = "findings that the real job, from exports to findings.csv, and the bench agree on"
    row = Row("detection-job-agreement", what, None, "", "higher", 1.0, 1.0, 0)
    made = sample(family)
    with tempfile.TemporaryDirectory() as folder:
        write_plant(Path(folder), made)
        try:
            told = by_job(Path(folder), weeks)
        except subprocess.CalledProcessError as failure:
            return replace(row, detail=f"the job ended with status {failure.returncode}")
    pairs = [(told[label], in_memory(made, week_named(label, ZONE))) for label in told]
    either, both = sum(len(a | b) for a, b in pairs), sum(len(a & b) for a, b in pairs)
    return replace(row, figure=round(both / either, 3) if either else None, n=either)
