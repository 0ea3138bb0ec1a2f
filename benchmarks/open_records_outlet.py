"""Outlet record: labelled events of a drinking-water works, and what the joint contrast of its tags says.

The labels are the record's own column EVENT. Readings are rounded to their instruments' resolution first,
for simulated events betray themselves by long decimals. Nothing is trained on the labels: the limit is that
of `benchmarks.contrast`, and every score rests on earlier readings alone, so that each half is a block
of its own.
"""

import tempfile
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import polars as pl

from benchmarks.contrast import LIMIT, alarms, contrasts, joint
from benchmarks.detection_counts import Bars, Row, lower, of_share
from benchmarks.open_records_plant import NOW, make_plant
from benchmarks.open_records_scoring import event_scores, f1
from benchmarks.open_records_vus import WIDEST, Flags, vus_pr
from pipeline.archive.trends import read
from pipeline.config.load import Plant
from pipeline.config.tags import Tag
from pipeline.intake import take_in

CONFIG = "outlet"
LABEL = "EVENT"
STEP = timedelta(minutes=1)
WEEK = timedelta(days=7)
NOT_WATER = ("flow", "state")
"""Measures that a works changes on purpose."""

BARS: dict[str, Bars] = {"f1": (0.88, 0.78), "false": (1.5, 1.5), "vus": (0.40, 0.25)}
Span = tuple[datetime, datetime]


@dataclass(frozen=True)
class Outlet:
    """The record with its labels.

    Parameters
    ----------
    first, last : datetime [UTC]
    events, alarms : list of (datetime, datetime)
        As labelled; as raised.
    refused : int
        Readings that were not read.
    vus_pr : float or None
        Of the score without any limit; the first day, of which nothing is said, counts as nought.
    """

    first: datetime
    last: datetime
    events: list[Span]
    alarms: list[Span]
    refused: int
    vus_pr: float | None = None

    def part(self, begin: datetime, end: datetime) -> "Outlet":
        """Return a contiguous block; what began in it belongs to it."""
        events, raised = (
            [span for span in spans if begin <= span[0] < end] for spans in (self.events, self.alarms)
        )
        return Outlet(begin, end, events, raised, self.refused)


def outlet(path: Path, limit: float = LIMIT) -> Outlet:
    """Read the record through the product's ingest and raise its alarms."""
    with tempfile.TemporaryDirectory() as folder:
        plant = make_plant(Path(folder) / "plant", CONFIG, [path])
        intake = take_in(plant, now=NOW)
        if not intake.total("stored"):
            raise SystemExit(f"{path}: no reading of the outlet is in it; give the record itself")
        tags = [tag for tag in plant.tags.values() if tag.measures not in NOT_WATER]
        grid = _grid(plant, tags)
    resolutions = {tag.tag: tag.resolution or 0.0 for tag in tags}
    score = joint(contrasts(grid, resolutions, STEP))
    raised = alarms(grid["time"], score, limit)
    spans = list(raised.select("start", "end").iter_rows())
    events = labels(path, plant)
    volume = vus_pr(_marked(grid["time"], events), score.fill_null(0.0).to_numpy())
    return Outlet(grid["time"][0], grid["time"][-1], events, spans, intake.total("refused"), volume)


def _marked(time: pl.Series, events: list[Span]) -> Flags:
    minutes = time.dt.epoch("s").to_numpy()
    marked = np.zeros(len(minutes), dtype=bool)
    for begin, end in events:
        marked |= (minutes >= begin.timestamp()) & (minutes <= end.timestamp())
    return marked


def _grid(plant: Plant, tags: list[Tag]) -> pl.DataFrame:
    """Return ``time`` and a column a tag, minute by minute, rounded to what the instruments tell apart."""
    rows = read(plant.archive, tags=[tag.tag for tag in tags]).collect()
    good = rows.filter(pl.col("quality") == "good")
    wide = good.pivot("tag", index="time", values="value").sort("time")
    every = pl.datetime_range(wide["time"][0], wide["time"][-1], STEP, eager=True).alias("time")
    whole = pl.DataFrame([every]).join(wide, on="time", how="left", maintain_order="left")
    return whole.select("time", *(_rounded(tag) for tag in tags))


def _rounded(tag: Tag) -> pl.Expr:
    size = tag.resolution
    return (pl.col(tag.tag) / size).round() * size if size else pl.col(tag.tag)


def labels(path: Path, plant: Plant) -> list[Span]:
    """Return the labelled events as published: first and last minute [UTC]."""
    text = pl.read_csv(path, infer_schema=False).select("Time", pl.col(LABEL).str.to_uppercase() == "TRUE")
    when = pl.col("Time").str.to_datetime("%Y-%m-%d %H:%M:%S")
    zone = plant.file.time_zone
    told = text.select(
        when.dt.replace_time_zone(zone, ambiguous="earliest", non_existent="null").alias("time"),
        LABEL,
        pl.col(LABEL).rle_id().alias("run"),
    ).filter(LABEL)
    runs = told.group_by("run", maintain_order=True).agg(
        pl.col("time").min().alias("begin"), pl.col("time").max().alias("end")
    )
    return [(begin.astimezone(UTC), end.astimezone(UTC)) for _, begin, end in runs.iter_rows()]


def rows(held: Outlet) -> list[Row]:
    """Return the rows: the whole record, then each half as a block."""
    middle = held.first + (held.last - held.first) / 2
    what = f"labelled events of an open outlet record, joint contrast above {LIMIT:g}"
    halves = {"first half": held.part(held.first, middle), "second half": held.part(middle, held.last)}
    found, right = event_scores(held.events, held.alarms)
    told = "; ".join(
        f"{name} {_two(f1(*event_scores(half.events, half.alarms)))}" for name, half in halves.items()
    )
    score = f1(found, right)
    figure = None if score is None else round(score, 3)
    wrong, weeks = right.n - right.hits, (held.last - held.first) / WEEK
    return [
        of_share("open-outlet-recall", f"{what}: found", found),
        of_share("open-outlet-precision", f"{what}: alarms that were right", right),
        Row("detection-open-outlet-f1", f"{what}: F1", figure, "", "higher", *BARS["f1"], found.n, told),
        lower("open-outlet-false-per-week", f"{what}: false alarms a week", wrong / weeks, "1/week",
              right.n, BARS["false"], f"{wrong} in {weeks:.1f} weeks"),
        Row("detection-open-outlet-vus-pr", f"the same score without a limit: VUS-PR, {WIDEST} minutes",
            None if held.vus_pr is None else round(held.vus_pr, 3), "", "higher", *BARS["vus"], found.n),
        lower("open-outlet-unread", "readings of it refused", float(held.refused), "", 1, (0, 0)),
    ]  # fmt: skip


def _two(value: float | None) -> str:
    return "-" if value is None else f"{value:.2f}"


def lines(held: Outlet) -> list[str]:
    """Return each event that was missed and each false alarm."""
    missed = [event for event in held.events if not event_scores([event], held.alarms)[0].hits]
    wrong = [alarm for alarm in held.alarms if not event_scores(held.events, [alarm])[1].hits]
    return [
        *(f"missed {begin:%Y-%m-%d %H:%M} to {end:%H:%M} UTC" for begin, end in missed),
        *(f"false {begin:%Y-%m-%d %H:%M} to {end:%H:%M} UTC" for begin, end in wrong),
    ]
