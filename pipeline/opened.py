"""Opened: a plant's archive for a notebook or a script, every answer a polars frame.

from pipeline import open_plant

plant = open_plant(".")
plant.upsets()
plant.series(["AIT-131", "FIT-132"], start, end)
"""

from collections.abc import Collection
from dataclasses import asdict
from datetime import UTC, datetime, timedelta
from functools import cached_property

import numpy as np
import polars as pl

from pipeline.archive.trends import first_and_last, read
from pipeline.clock import Period
from pipeline.config.load import Plant
from pipeline.errors import UsageError
from pipeline.gather import gather_window
from pipeline.investigate import Scene, look_at, look_into, scene, upset_named, upsets_of, with_alike
from pipeline.logbook.book import Logbook, read_logbook
from pipeline.report.upset_rows import upset_row
from pipeline.reported import reported_findings
from pipeline.shapes import measured, shapes
from pipeline.upsets.inquiry import Inquiry

UPSETS = ("upset_id", "start", "end", "severity", "first_mover", "tags", "limits_touched", "summary")
LATELY = timedelta(weeks=8)
MOST_TAGS = 16
QUARTER = timedelta(minutes=15)


class Opened:
    """What a plant's folder holds; times are given with a zone and come back in UTC.

    Parameters
    ----------
    plant : Plant
        From its config.
    """

    def __init__(self, plant: Plant) -> None:
        self.plant = plant

    @cached_property
    def logbook(self) -> Logbook:
        """Lab results, services, maintenance and verdicts, each a frame."""
        return read_logbook(self.plant)[0]

    @cached_property
    def end(self) -> datetime:
        """Where the archive ends [UTC].

        Raises
        ------
        UsageError
            It holds nothing.
        """
        known = first_and_last(self.plant.archive)
        if known is None:
            raise UsageError("the archive holds nothing; run `stillwell ingest`")
        return known[1] + QUARTER

    def series(
        self, tags: Collection[str], start: datetime | None = None, end: datetime | None = None
    ) -> pl.DataFrame:
        """Return readings as recorded: ``tag, time, value, quality``, by tag and time."""
        self._known(tags)
        rows = read(self.plant.archive, tags, start, end).select("tag", "time", "value", "quality")
        return rows.sort("tag", "time").collect()

    def judged(self, tags: Collection[str], start: datetime, end: datetime) -> pl.DataFrame:
        """Return readings with what is thought of them: ``tag, time, value, good, in_state, usable``."""
        self._known(tags)
        cases = gather_window(self.plant, self.logbook, *_utc(start, end), tags)
        frames = [
            case.readings.select(pl.lit(name).alias("tag"), "time", "value", "good", "in_state", "usable")
            for name, case in cases.items()
        ]
        return pl.concat(frames)

    def departures(self, tags: Collection[str], start: datetime, end: datetime) -> pl.DataFrame:
        """Return departures from the usual course [sd], a column a tag, a row a quarter hour."""
        self._known(tags)
        found = shapes(self.plant, self.logbook, tags, *_utc(start, end))
        columns = {name: np.round(found.sd(name), 1) for name in found.tags}
        return pl.DataFrame({"time": found.grid.times, **columns}).fill_nan(None)

    def findings(self) -> pl.DataFrame:
        """Return every finding that was ever reported, as it was told last."""
        rows = [{"finding_id": one.finding_id, **asdict(one)} for one in reported_findings(self.plant)]
        return pl.DataFrame(rows, infer_schema_length=None)

    def upsets(self, start: datetime | None = None, end: datetime | None = None) -> pl.DataFrame:
        """Return the upsets of a stretch of time (without one: of the newest eight weeks)."""
        end = min(end or self.end, self.end)
        start, end = _utc(start or end - LATELY, end)
        period = Period("upsets", start, end, self.plant.zone)
        found = upsets_of(self.plant, period, period.end, reported_findings(self.plant), most_drawn=0)
        rows = [upset_row(one, end) for one in found]
        times = {"start": pl.Datetime("us", self._zone), "end": pl.Datetime("us", self._zone)}
        frame = pl.DataFrame(rows, schema=list(UPSETS), orient="row", infer_schema_length=None)
        return frame.with_columns(pl.col(name).cast(kind, strict=False) for name, kind in times.items())

    def inquiry(self, upset_id: str) -> Inquiry:
        """Return everything that is known of one upset.

        Raises
        ------
        UsageError
            There is none of that id.
        """
        of, upset = upset_named(self.plant, self.logbook, upset_id)
        return with_alike(of, look_into(of, upset, reported_findings(self.plant)))

    def window(self, start: datetime, end: datetime, tags: Collection[str] | None = None) -> Inquiry:
        """Return what is known of a stretch of time (without `tags`: of those that departed most)."""
        self._known(tags or ())
        if not start < min(end, self.end):
            raise UsageError("the stretch of time is empty, or begins after the archive ends")
        start, end = _utc(start, min(end, self.end))
        of = scene(self.plant, self.logbook, start, end)
        chosen = list(tags) if tags else self._most(of, start)
        states = [name for name, tag in self.plant.tags.items() if tag.is_state]
        order = {name: place for place, name in enumerate(self.plant.tags)}
        return look_at(of, start, end, sorted({*chosen, *states}, key=order.__getitem__))

    def similar(self, upset_id: str) -> pl.DataFrame:
        """Return the windows of the whole archive most like an upset: ``start, score, written_down``."""
        of, upset = upset_named(self.plant, self.logbook, upset_id)
        whole = Scene(of.plant, self.logbook, of.path, of.shapes, of.cases, self.end)
        found = with_alike(whole, look_into(of, upset, ()), only_before=False)
        rows = [(one.start.astimezone(self.plant.zone), one.score, "; ".join(one.log)) for one in found.alike]
        return pl.DataFrame(rows, schema=["start", "score", "written_down"], orient="row").with_columns(
            pl.col("score").round(2)
        )

    def _most(self, of: Scene, start: datetime) -> list[str]:
        part = of.shapes.between(start, of.as_of)
        size = {
            name: float(np.nanmax(np.abs(np.append(part.sd(name), 0.0)))) for name in measured(self.plant)
        }
        return sorted(size, key=lambda name: -size[name])[:MOST_TAGS]

    def _known(self, tags: Collection[str]) -> None:
        unknown = [name for name in tags if name not in self.plant.tags]
        if unknown:
            raise UsageError(f"no tag {', '.join(unknown)}; config/tags.csv names them")

    @property
    def _zone(self) -> str:
        return getattr(self.plant.zone, "key", "UTC")


def _utc(start: datetime, end: datetime) -> tuple[datetime, datetime]:
    return start.astimezone(UTC), end.astimezone(UTC)
