"""Book: all that people wrote down, read together."""

from dataclasses import dataclass
from datetime import datetime

import polars as pl

from pipeline.config.load import Plant
from pipeline.errors import Fault
from pipeline.logbook import calibrations, lab, maintenance, sheets, verdicts
from pipeline.logbook.pages import workbooks
from pipeline.logbook.slips import Slips


@dataclass(frozen=True)
class Logbook:
    """Lab grabs, services, maintenance windows and verdicts, each by its contract in `pipeline.table`."""

    grabs: pl.DataFrame
    calibrations: pl.DataFrame
    maintenance: pl.DataFrame
    verdicts: pl.DataFrame

    def until(self, as_of: datetime) -> "Logbook":
        """Return what had been written by `as_of`; a window still open then has no end yet."""
        before = pl.col("time") < as_of
        end = pl.when(pl.col("end") < as_of).then("end").alias("end")
        return Logbook(
            self.grabs.filter(before),
            self.calibrations.filter(before),
            self.maintenance.filter(pl.col("start") < as_of).with_columns(end),
            # A verdict without a time holds from the first: nobody knows when it was not yet given.
            self.verdicts.filter(before | pl.col("time").is_null()),
        )


def read_logbook(
    plant: Plant, now: datetime | None = None, slips: Slips | None = None
) -> tuple[Logbook, list[Fault]]:
    """Read the lab and logbook folders of a plant; lines that cannot be read are among the faults.

    With `now`, so are lab results that are still to come; no report looks past its own end. `slips` looks
    at the lab results that are read.
    """
    bench = plant.folder / plant.file.exports.lab
    folder = plant.folder / plant.file.exports.logbook
    order = plant.file.reading.date_order
    subjects = [*plant.instruments, *plant.tags, *(area.id for area in plant.file.area)]
    grabs, faults = lab.read(bench, plant.zone, plant.tags, order, now, slips.look if slips else None)
    services, service_faults = calibrations.read(folder, plant.zone, plant.instruments, order)
    windows, window_faults = maintenance.read(folder, plant.zone, subjects, order)
    words, word_faults = verdicts.read(folder, plant.zone, order)
    book = Logbook(grabs, services, windows, words)
    patterns = (calibrations.FILE, maintenance.FILE, verdicts.FILE, sheets.PATTERN)
    return book, [*workbooks(folder, *patterns), *faults, *service_faults, *window_faults, *word_faults]
