"""Healthy: the demo's plant with its papers and a record in which nothing is broken, in memory."""

from collections.abc import Collection
from dataclasses import replace
from datetime import date, timedelta

import polars as pl

from pipeline.case import Case
from pipeline.casebook import Source, cases_of
from pipeline.clock import Period, week_of
from pipeline.config.expressions import parse
from pipeline.config.load import Plant, load
from pipeline.config.physics import Law, Running
from pipeline.demo.calendar import Calendar, instant, make_calendar
from pipeline.demo.readings import as_recorded, healthy_readings
from pipeline.demo.script import FAULTS
from pipeline.demo.sheets import Sheets, read_sheets
from pipeline.demo.truewater import make_water
from pipeline.demo.water import Signals
from pipeline.facts import SPANS
from pipeline.logbook.book import Logbook, read_logbook
from pipeline.table import TIME
from tests.job.conftest import REPOSITORY

WEEKS, SEED = 60, 1
END = instant("2026-11-16T00:00")


def _tags_of(law: Law) -> set[str]:
    named = {tag for tag, _ in law.units.values()}
    return named | set(parse(law.when).names) if isinstance(law, Running) else named


def _without_the_script(plant: Plant, book: Logbook) -> Logbook:
    """Take out what services found of errors that are not in a healthy record."""
    broken = {plant.tags[tag].instrument for fault in FAULTS for tag in fault.tags}
    found = [
        pl.when(~pl.col("instrument").is_in(sorted(broken))).then(pl.col(name)).alias(name)
        for name in ("as_found", "as_left", "reference")
    ]
    return replace(book, calibrations=book.calibrations.with_columns(found))


class World:
    """The plant, its papers and a healthy record."""

    def __init__(self) -> None:
        self.plant: Plant = load(REPOSITORY)
        self.book: Logbook = _without_the_script(self.plant, read_logbook(self.plant)[0])
        self.calendar: Calendar = make_calendar(WEEKS, 15)
        self.sheets: Sheets = read_sheets()
        self.shown: Signals = healthy_readings(
            SEED, self.calendar, self.sheets, make_water(SEED, self.calendar)
        )

    def some(self, names: Collection[str], shown: Signals) -> dict[str, Case]:
        """Put some cases together, with the laws that speak of these alone."""
        every = self.plant.file.physics
        laws = {key: tuple(one for one in tables if _tags_of(one) <= set(names)) for key, tables in every}
        file = self.plant.file.model_copy(update={"physics": every.model_copy(update=laws)})
        tags = {name: tag for name, tag in self.plant.tags.items() if name in names}
        return self.cases({**self.shown, **shown}, self.book, replace(self.plant, file=file, tags=tags))

    def cases(self, shown: Signals, book: Logbook, plant: Plant | None = None) -> dict[str, Case]:
        """Put the cases together as the job does, from memory."""
        time = self.calendar.series.cast(TIME)
        exported = pl.DataFrame({"start": [time[0]], "end": [END]}, schema=SPANS)

        def samples(name: str) -> pl.DataFrame:
            values = as_recorded(self.sheets.tags[name], shown[name])
            return pl.DataFrame({"time": time, "value": values}).with_columns(good=pl.lit(True))

        return cases_of(Source(plant or self.plant, book.until(END), END, samples, exported))

    def weeks(self, first: str, last: str) -> list[Period]:
        """Weeks from the one of a day to the one of another."""
        days = (date.fromisoformat(last) - date.fromisoformat(first)).days
        return [
            week_of(instant(f"{first}T12:00") + timedelta(days=k), self.plant.zone)
            for k in range(0, days + 1, 7)
        ]
