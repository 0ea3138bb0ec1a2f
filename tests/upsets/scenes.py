"""Scenes: things that go wrong at Harrow Fork, on its own simulator, in memory; one function a scenario.

Each bends the true water of a quiet week as the plant's hydraulics would, and instruments read that water.
What a scenario begins with is known because it was put there.
"""

from collections.abc import Callable
from datetime import datetime
from functools import cache
from pathlib import Path

import numpy as np
import polars as pl

from pipeline.case import Case
from pipeline.clock import Period, week_named
from pipeline.config.load import Plant
from pipeline.demo.calendar import Calendar, instant, make_calendar
from pipeline.demo.noise import lag
from pipeline.demo.readings import as_recorded, healthy_readings
from pipeline.demo.sheets import Sheets, read_sheets
from pipeline.demo.states import valid
from pipeline.demo.truewater import make_water
from pipeline.demo.water import Signals
from pipeline.facts import READINGS, SAMPLES, SPANS
from pipeline.investigate import Scene
from pipeline.logbook.book import Logbook
from pipeline.run import load_plant
from pipeline.shapes import Shapes, in_tenths
from pipeline.table import CALIBRATIONS, GRABS, MAINTENANCE, VERDICTS, conform, empty
from pipeline.upsets.grid import Grid, departures_of, grid_between
from pipeline.upsets.path import path_of

REPOSITORY = Path(__file__).resolve().parents[2]
WEEKS = 24
WEEK = "2026-W45"
"""A week in which the demo's own script is quiet."""

Bend = Callable[[Calendar, Signals], None]


@cache
def ground() -> tuple[Plant, Sheets, Calendar, Signals]:
    """Return the plant and its undisturbed water."""
    calendar = make_calendar(WEEKS, 15)
    return load_plant(REPOSITORY), read_sheets(), calendar, make_water(1, calendar)


def nothing_written() -> Logbook:
    """Return an empty logbook."""
    return Logbook(empty(GRABS), empty(CALIBRATIONS), empty(MAINTENANCE), empty(VERDICTS))


def staged(bend: Bend | None = None, spoil: Bend | None = None, book: Logbook | None = None) -> Scene:
    """Return the scene of the quiet week with `bend` done to its water and `spoil` to what is read of it."""
    plant, sheets, calendar, quiet = ground()
    water = {name: values.copy() for name, values in quiet.items()}
    if bend:
        bend(calendar, water)
    readings = healthy_readings(1, calendar, sheets, water)
    if spoil:
        spoil(calendar, readings)
    recorded = {tag.tag: as_recorded(tag, readings[tag.tag]) for tag in sheets.tags.values()}
    masks = valid(calendar, sheets, recorded)
    period = week_named(WEEK, plant.zone)
    book = book or nothing_written()
    cases = {
        name: _case(plant, name, calendar, recorded[name], masks[name], period, book) for name in plant.tags
    }
    grid = grid_between(calendar.series[0], period.end)
    measured = tuple(name for name, tag in plant.tags.items() if not tag.is_state)
    tenths = np.stack([_tenths(cases[name], grid) for name in measured])
    return Scene(plant, book, path_of(plant.file), Shapes(grid, measured, tenths), cases, period.end)


_KNOWN: dict[tuple[str, bytes], np.ndarray] = {}


def _tenths(case: Case, grid: Grid) -> np.ndarray:
    """Departures of a tag, kept for the scenarios that do not touch it."""
    rows = case.readings
    key = (case.tag.tag, rows["value"].to_numpy().tobytes() + rows["in_state"].to_numpy().tobytes())
    if key not in _KNOWN:
        _KNOWN[key] = in_tenths(departures_of(case, grid))
    return _KNOWN[key]


def _case(
    plant: Plant,
    name: str,
    calendar: Calendar,
    values: np.ndarray,
    mask: np.ndarray,
    period: Period,
    book: Logbook,
) -> Case:
    tag = plant.tags[name]
    frame = pl.DataFrame({"time": calendar.series, "value": values, "in_state": mask, "stuck": False})
    frame = frame.with_columns(good=pl.col("value").is_finite()).with_columns(
        usable=pl.col("good") & pl.col("in_state")
    )
    frame = frame.filter(pl.col("time") < period.end)
    grabs = book.grabs.filter(pl.col("tag") == name)
    masked = frame.select("time", "in_state").filter(
        pl.col("in_state") != pl.col("in_state").shift(1, fill_value=True)
    )
    spans = masked.select(
        "in_state",
        pl.col("time").alias("start"),
        pl.col("time").shift(-1, fill_value=period.end).alias("end"),
    )
    return Case(
        tag, plant.instruments.get(tag.instrument), plant.zone, period.end, conform(frame, READINGS),
        samples=conform(grabs, SAMPLES),
        masked=conform(spans.filter(~pl.col("in_state")), SPANS),
    )  # fmt: skip


def at(when: str) -> datetime:
    """UTC instant of a wall clock."""
    return instant(when)


def rises(calendar: Calendar, start: str, hours: float, tau_h: float) -> np.ndarray:
    """Return 0 before `start`, then towards 1, and after `hours` back again, with time constant `tau_h`."""
    since = calendar.hours_since(start)
    return lag(((since >= 0) & (since < hours)).astype(float), tau_h, calendar)


def during(calendar: Calendar, start: str, hours: float) -> np.ndarray:
    """Return where a stretch of time is."""
    since = calendar.hours_since(start)
    return (since >= 0) & (since < hours)


def breakthrough(calendar: Calendar, water: Signals) -> None:
    """A cloudburst clouds the raw water at 13:00; filter 3 lets go nine hours later."""
    storm = rises(calendar, "2026-11-05T13:00", 12, 1.5)
    water["AIT-101"] += 60 * storm
    cloudy = 1 + 2.0 * lag(storm, 3.0, calendar)
    for tag in ("AIT-111", "AIT-112"):
        water[tag] *= cloudy
    water["FIT-111"] *= 1 + 1.5 * rises(calendar, "2026-11-05T13:45", 12, 1.5)
    through = rises(calendar, "2026-11-05T22:00", 3, 0.5)
    water["AIT-123"] += 0.5 * through
    water["AIT-130"] += 0.13 * through


def no_chlorine(calendar: Calendar, water: Signals) -> None:
    """The hypochlorite pump loses its prime at 02:00; the entry point shows it 105 minutes later."""
    water["FIT-132"][during(calendar, "2026-11-06T02:00", 4)] *= 0.03
    water["AIT-131"] -= 0.5 * rises(calendar, "2026-11-06T03:45", 4, 0.6)


POWER_OFF = ("2026-11-05T14:30", 1.5)
FLOWS = ("FIT-101", "FIT-111", "FIT-132", "FIT-121", "FIT-122", "FIT-123", "FIT-124", "FIT-131", "FIT-311")


def power_cut(calendar: Calendar, water: Signals) -> None:
    """The water works lose power at 14:30 for an hour and a half: nothing is pumped, fed or filtered."""
    dark = during(calendar, *POWER_OFF)
    for tag in (*FLOWS, "YS-131", "YS-132", "YS-311"):
        water[tag][dark] = 0.0
    water["PIT-131"][dark] = 95.0 - 20.0


def stuck_decanter(calendar: Calendar, water: Signals) -> None:
    """Reactor 1 goes on standing on decant at its usual end, and its level does not fall."""
    hours = calendar.hours_since("2026-11-05T00:00")
    decant = (water["YS-511"] == 4) & (hours >= 0)
    first = int(np.flatnonzero(decant)[0])
    stuck = slice(first, first + calendar.steps(4.0))
    water["YS-511"][stuck] = 4.0
    water["LIT-511"][stuck] = water["LIT-511"][first]
    water["FIT-541"][first : first + calendar.steps(0.75)] = 0.0


def uv_failure(calendar: Calendar, water: Signals) -> None:
    """The burning UV bank fails at 15:00 while its state still says on; the other is lit at 15:30."""
    at_once = during(calendar, "2026-11-05T15:00", 200)
    burning, other = ("2", "3") if water["YS-532"][calendar.index("2026-11-05T15:00")] else ("3", "2")
    water[f"AIT-53{burning}"][at_once] *= 0.08
    lit = during(calendar, "2026-11-05T15:30", 199.5)
    water[f"YS-53{other}"][lit] = 1.0
    water[f"AIT-53{other}"][lit] = 11.9


def bank_trips_in_the_rain(calendar: Calendar, water: Signals) -> None:
    """Rain inflow, and at 03:00 the burning UV bank goes off for five hours, its state with it."""
    rain_inflow(calendar, water)
    burning = "2" if water["YS-532"][calendar.index("2026-11-06T03:00")] else "3"
    off = during(calendar, "2026-11-06T03:00", 5)
    water[f"YS-53{burning}"][off] = 0.0
    water[f"AIT-53{burning}"][off] = 0.0


def main_break(calendar: Calendar, water: Signals) -> None:
    """A main of the lower zone bursts at 03:15: pressure falls at once, the tanks within the hour."""
    burst = rises(calendar, "2026-11-06T03:15", 5, 0.1)
    water["PIT-301"] -= 9.0 * burst
    lost = np.cumsum(during(calendar, "2026-11-06T03:15", 5)) * 15.0 * 600.0 / 24_000.0
    refilled = np.clip(calendar.hours_since("2026-11-06T08:15") / 8.0, 0.0, 1.0)
    for tag in ("LIT-301", "LIT-302"):
        water[tag] -= np.where(lost > 0, lost * (1 - refilled), 0.0)
    later = during(calendar, "2026-11-06T03:45", 6)
    for tag in ("YS-131", "YS-132"):
        water[tag][later] = 1.0
    water["FIT-131"][later] = 980.0
    water["PIT-131"][later] = 118.0


def rain_inflow(calendar: Calendar, water: Signals) -> None:
    """Rain runs into the sewers from 01:00; the stations fill first, the plant sees it 35 minutes later."""
    inflow = rises(calendar, "2026-11-06T01:00", 8, 1.2)
    for number in range(1, 7):
        water[f"LIT-40{number}"] += (12.0 - water[f"LIT-40{number}"]) * np.clip(1.6 * inflow, 0.0, 1.0)
    arriving = rises(calendar, "2026-11-06T01:45", 8, 1.2)
    water["FIT-501"] *= 1 + 3.0 * arriving
    for number in (1, 2, 3):
        water[f"LIT-51{number}"] += 5.0 * lag(arriving, 3.0, calendar)


def blocked_sample_line(calendar: Calendar, readings: Signals) -> None:
    """The chlorine analyser starves at 10:00 and reads low for four hours; the water is as it was."""
    readings["AIT-131"] -= 0.42 * rises(calendar, "2026-11-05T10:00", 4, 0.3)
