"""Laboratory: a weekly grab sample beside eight analysers, each of the water and never of the analyser."""

from dataclasses import dataclass

import numpy as np
import polars as pl

from pipeline.demo.calendar import BoolArray, Calendar
from pipeline.demo.noise import stream
from pipeline.demo.papers import paper
from pipeline.demo.sheets import Sheets
from pipeline.demo.water import Signals

GRAB_TAGS = ("AIT-101", "AIT-130", "AIT-131", "AIT-132", "AIT-201", "AIT-301", "AIT-541", "AIT-542")
TUESDAY = 1
SCHEMA = ("tag", "time", "value", "unit", "method", "by", "note")


@dataclass(frozen=True)
class Bench:
    """How one quantity is measured on the bench, and how well: `sd` in its unit, or a share of it."""

    method: str
    sd: float
    relative: bool = False


BENCHES = {
    "chlorine": Bench("DPD colorimetric", 0.03),
    "ph": Bench("bench pH meter", 0.04),
    "turbidity": Bench("bench turbidimeter", 0.06, relative=True),
}


def grabs(
    seed: int, calendar: Calendar, sheets: Sheets, water: Signals, valid: dict[str, BoolArray]
) -> pl.DataFrame:
    """Return all grab samples, oldest first; `time` is wall clock.

    One a week and tag, on Tuesday from nine, at the first moment at which the water runs there.
    """
    found = []
    for name in GRAB_TAGS:
        tag = sheets.tags[name]
        bench = BENCHES[tag.measures]
        source = stream(seed, f"grab {name}")
        for at in _moments(calendar, valid[name]):
            error, minute = bench.sd * source.standard_normal(), int(source.randint(0, calendar.step_minutes))
            true = water[name][at]
            value = true * (1.0 + error) if bench.relative else true + error
            when = calendar.wall[at] + np.timedelta64(minute, "m")
            sampler = f"op{1 + int(source.randint(0, 4))}"
            text = f"{value:.{tag.decimals}f}"
            found.append((name, str(when)[:16], text, tag.unit, bench.method, sampler, ""))
    return paper(found, SCHEMA, lambda row: (row[1], row[0]))


def _moments(calendar: Calendar, valid: BoolArray) -> list[int]:
    """Return one grid position for each Tuesday."""
    morning = (calendar.weekday == TUESDAY) & (calendar.hour >= 8.75) & (calendar.hour < 12.0) & valid
    at = np.flatnonzero(morning)
    days = calendar.wall[at].astype("datetime64[D]")
    _, first = np.unique(days, return_index=True)
    return [int(position) for position in at[first]]
