"""A corner of the invented town of Harrow Fork: its config and a quiet record, made in memory."""

import csv
from datetime import date, datetime, timedelta
from pathlib import Path

import numpy as np
import polars as pl

from pipeline.case import Case
from pipeline.clock import midnight, week_named, zone_of
from pipeline.config.instruments import Instrument
from pipeline.config.limits import Limit
from pipeline.config.load import Plant
from pipeline.config.plant import Area, PlantFile
from pipeline.config.tags import Tag
from pipeline.facts import DAILY, PAIRS, READINGS
from pipeline.table import CALIBRATIONS, TIME

ZONE = zone_of("America/Denver")
PERIOD = week_named("2026-W46", ZONE)
STEP = timedelta(minutes=15)
FIRST = PERIOD.start - timedelta(days=21)
LAST_DAY = date(2026, 11, 15)
HISTORY_DAYS = 110

AREAS = (
    Area(id="filters", name="Dual-media filters", plant="water"),
    Area(id="clearwell", name="Clearwell and high service", plant="water"),
    Area(id="wells", name="Wells", plant="water"),
    Area(id="effluent", name="UV channel and outfall", plant="wastewater"),
)

TAGS = """\
tag,description,area,measures,unit,resolution,level,instrument,tolerance,place
AIT-121,Filter 1 effluent turbidity,filters,turbidity,NTU,0.001,0.06,AE-121,0.02,filter 1
AIT-123,Filter 3 effluent turbidity,filters,turbidity,NTU,0.001,0.07,AE-123,0.02,filter 3
AIT-130,Combined turbidity,filters,turbidity,NTU,0.001,0.06,AE-130,0.02,combined header
AIT-131,Entry point free chlorine,clearwell,chlorine,mg/L,0.01,1.1,AE-131,0.1,sample panel
AIT-132,Finished water pH,clearwell,ph,pH,0.01,7.6,AE-132,0.2,sample panel
LIT-131,Clearwell level,clearwell,level,ft,0.01,9.0,LE-131,0.25,pump room
TIT-131,Finished water temperature,clearwell,temperature,degC,0.1,8.0,TE-131,0.5,pump room
FIT-201,Well 1 flow,wells,flow,gpm,1,240,FE-201,12,well house 1
LIT-201,Well 1 water level,wells,level,ft,0.1,84,LE-201,1,well house 1
YS-201,Well 1 pump,wells,state,1,1,1,,,
FIT-202,Well 2 flow,wells,flow,gpm,1,230,FE-202,12,well house 2
AIT-541,Effluent pH,effluent,ph,pH,0.01,7.1,AE-541,0.2,outfall flume
FIT-541,Effluent flow,effluent,flow,MGD,0.001,0.5,FE-541,,outfall flume
"""

LIMITS = """\
limit_id,tag,label,statistic,low,high,unit,severity,source
IFE-121,AIT-121,Filter 1 turbidity,instantaneous,,0.3,NTU,act,plant's own alarm
IFE-123,AIT-123,Filter 3 turbidity,instantaneous,,0.3,NTU,act,plant's own alarm
CFE-1.0,AIT-130,Combined turbidity maximum,instantaneous,,1,NTU,act,40 CFR 141.551(b)
CL2-RULE,AIT-131,Entry chlorine minimum,instantaneous,0.2,,mg/L,act,40 CFR 141.72(b)(2)
CL2-LOW,AIT-131,Entry chlorine own target,instantaneous,0.5,,mg/L,watch,plant's own target
PH-FIN,AIT-132,Finished pH,instantaneous,6.5,8.5,pH,watch,40 CFR 143.3 (secondary level)
CW-LOW,LIT-131,Clearwell low level,instantaneous,4,,ft,act,plant's own alarm
EFF-PH,AIT-541,Effluent pH,instantaneous,6,9,pH,act,"demo permit, clause 3"
EFF-FLOW,FIT-541,Effluent daily mean flow,daily_mean,,0.9,MGD,act,"demo permit, clause 4"
"""


def at(day: int, clock: str) -> datetime:
    """UTC instant of a wall clock in November 2026."""
    hour, minute = (int(part) for part in clock.split(":"))
    return midnight(date(2026, 11, day), ZONE) + timedelta(hours=hour, minutes=minute)


def rows(text: str) -> list[dict[str, str]]:
    return [{name: cell for name, cell in row.items() if cell} for row in csv.DictReader(text.splitlines())]


def plant() -> Plant:
    tags, instruments = {}, {}
    for line, row in enumerate(rows(TAGS), start=2):
        kept = {name: cell for name, cell in row.items() if name not in ("level", "tolerance", "place")}
        recording = "on change" if row["measures"] == "state" else "interval"
        tags[row["tag"]] = Tag.model_validate({**kept, "recording": recording, "row": line})
        if "instrument" in row:
            device = {name: row[name] for name in ("instrument", "tolerance", "place") if name in row}
            sourced = {**device, "tolerance_source": "plant practice", "row": line}
            instruments[row["instrument"]] = Instrument.model_validate(sourced)
    limits = [Limit.model_validate({**row, "row": line}) for line, row in enumerate(rows(LIMITS), start=2)]
    file = PlantFile(name="Harrow Fork", time_zone="America/Denver", area=AREAS)
    return Plant(Path("harrow-fork"), file, tags, instruments, {limit.limit_id: limit for limit in limits})


def cases(of: Plant) -> dict[str, Case]:
    made = {}
    for seed, row in enumerate(rows(TAGS)):
        tag, level = of.tags[row["tag"]], float(row["level"])
        record = readings(level, tag.resolution or 0.01, seed, tag.is_state)
        steady = daily(level, tag.resolution or 0.01, 0.0, 1, seed)
        made[tag.tag] = Case(tag, of.instruments.get(tag.instrument), ZONE, PERIOD.end, record, steady)
    return made


def readings(level: float, resolution: float, seed: int, is_state: bool = False) -> pl.DataFrame:
    """Three weeks before the period and the period itself, every quarter of an hour."""
    count = (PERIOD.end - FIRST) // STEP
    times = pl.Series("time", [FIRST + k * STEP for k in range(count)], dtype=TIME)
    chance, hour = np.random.default_rng(seed), np.arange(count) / 4
    value = level * (1 + 0.04 * np.sin(2 * np.pi * hour / 24) + 0.02 * chance.standard_normal(count))
    value = np.full(count, level) if is_state else np.round(value / resolution) * resolution
    yes, no = pl.lit(True), pl.lit(False)
    flags = {"good": yes, "in_state": yes, "stuck": no, "usable": yes}
    return pl.DataFrame({"time": times, "value": value}).with_columns(**flags).select(*READINGS)


def changed(case: Case, start: datetime, end: datetime, **columns: pl.Expr | float | bool) -> pl.DataFrame:
    """Readings with some columns replaced between two instants."""
    inside = pl.col("time").is_between(start, end, closed="left")
    return case.readings.with_columns(
        pl.when(inside)
        .then(new if isinstance(new, pl.Expr) else pl.lit(new))
        .otherwise(pl.col(name))
        .alias(name)
        for name, new in columns.items()
    )


def without(case: Case, start: datetime, end: datetime) -> pl.DataFrame:
    return case.readings.filter(~pl.col("time").is_between(start, end, closed="left"))


def daily(level: float, resolution: float, rate_per_day: float, onset_days: int, seed: int) -> pl.DataFrame:
    """Daily values up to the end of the period, which walk off over the last `onset_days`."""
    chance = np.random.default_rng(seed)
    days = [LAST_DAY - timedelta(days=HISTORY_DAYS - 1 - k) for k in range(HISTORY_DAYS)]
    ramp = np.maximum(np.arange(HISTORY_DAYS) - (HISTORY_DAYS - onset_days), 0) * rate_per_day
    value = level * (1 + 0.012 * chance.standard_normal(HISTORY_DAYS)) + ramp
    value = np.round(value / resolution, 1) * resolution
    counts = [96] * HISTORY_DAYS
    return pl.DataFrame({"day": days, "value": value, "readings": counts, "level": value}, schema=DAILY)


def grabs(case: Case, rate_per_day: float, onset_days: int, seed: int) -> pl.DataFrame:
    """Two grabs a week, and what the sensor showed."""
    chance = np.random.default_rng(seed)
    found = []
    for day, value in case.daily.select("day", "value").iter_rows():
        if day.weekday() in (1, 4):
            off = max((day - LAST_DAY).days + onset_days, 0) * rate_per_day
            grab = round(value - off + 0.03 * float(chance.standard_normal()), 2)
            when = midnight(day, ZONE) + timedelta(hours=9, minutes=30)
            found.append({"time": when, "day": day, "grab": grab, "reading": value})
    return pl.DataFrame(found, schema=PAIRS)


def service(day: date) -> pl.DataFrame:
    when = midnight(day, ZONE) + timedelta(hours=10)
    return pl.DataFrame([{"time": when, "kind": "calibration"}], schema=CALIBRATIONS)
