"""Cases: a simulated train put together as the job would have gathered it."""

from datetime import datetime, timedelta

import numpy as np
import polars as pl

from benchmarks.families import shown_as
from benchmarks.families_sensors import START, ZONE, Sensor, Train
from pipeline.baseline.states import Condition, settled, settling, spans, union
from pipeline.case import Case
from pipeline.clock import midnight
from pipeline.config.expressions import parse
from pipeline.config.instruments import Instrument
from pipeline.config.tags import Tag
from pipeline.gather import case_of
from pipeline.table import CALIBRATIONS, TIME

STATE_TAG = "YS-001"
VALID_WHEN = f"{STATE_TAG} == 1"
SETTLE = timedelta(minutes=45)
STEP = timedelta(minutes=15)


def day_end(days: int) -> datetime:
    """Instant at which so many days are over [UTC]."""
    return midnight(START + timedelta(days=days), ZONE)


def tag_of(sensor: Sensor) -> Tag:
    """Return the line of tags.csv."""
    m = sensor.measure
    return Tag(
        row=2, tag=sensor.name, area="train", measures=m.name, unit=m.unit, low=m.low, high=m.high,
        resolution=m.resolution, instrument=device(sensor), valid_when=VALID_WHEN,
    )  # fmt: skip


def device(sensor: Sensor) -> str:
    """Return the instrument's id."""
    return sensor.name.replace("AIT", "AE")


def instrument_of(sensor: Sensor) -> Instrument:
    """Return the line of instruments.csv."""
    m = sensor.measure
    allowed = {"tolerance_pct": 100 * m.tolerance} if m.is_log else {"tolerance": m.tolerance}
    return Instrument(row=2, instrument=device(sensor), service_days=sensor.service_days, **allowed)


def grabs_of(sensor: Sensor, time: pl.Series) -> pl.DataFrame:
    """``time, value`` of the bench."""
    stamps = [time[row] + timedelta(minutes=off) for row, off, _ in sensor.grabs]
    values = [value for _, _, value in sensor.grabs]
    return pl.DataFrame({"time": stamps, "value": values}, schema={"time": TIME, "value": pl.Float64()})


def services_of(sensor: Sensor, time: pl.Series) -> pl.DataFrame:
    """Return the instrument's lines of the logbook."""
    m = sensor.measure
    middle = float(np.log(m.level)) if m.is_log else m.level
    rows = [
        {
            "instrument": device(sensor),
            "time": time[row],
            "kind": kind,
            **(
                {}
                if np.isnan(found)
                else {
                    "as_found": float(shown_as(m, np.float64(middle + found))),
                    "as_left": float(shown_as(m, np.float64(middle + left))),
                    "reference": m.level,
                }
            ),
        }
        for row, kind, found, left in sensor.services
    ]
    return pl.DataFrame(rows, schema=CALIBRATIONS)


def cases(train: Train, as_of_day: int | None = None) -> dict[str, Case]:
    """Return the cases of a train as known after `as_of_day` days (None: the whole record)."""
    as_of = day_end(len(train.time) // 96 if as_of_day is None else as_of_day)
    return {sensor.name: case(train, sensor, as_of) for sensor in train.sensors}


def case(train: Train, sensor: Sensor, as_of: datetime) -> Case:
    """Return the case of one sensor as known at `as_of`."""
    in_state, masked = _spans(train, as_of)
    samples = pl.DataFrame({"time": train.time, "value": sensor.shown}).fill_nan(None).drop_nulls()
    samples = samples.filter(pl.col("time") < as_of).with_columns(good=pl.lit(True))
    grabs = grabs_of(sensor, train.time).filter(pl.col("time") < as_of)
    services = services_of(sensor, train.time).filter(pl.col("time") < as_of)
    return case_of(
        tag_of(sensor), instrument_of(sensor), ZONE, as_of, samples, in_state, masked, grabs, services
    )


def _spans(train: Train, as_of: datetime) -> tuple[pl.DataFrame, pl.DataFrame]:
    expression = parse(VALID_WHEN)
    condition = Condition(expression.condition, tuple(expression.names))
    state = pl.DataFrame({"time": train.time, "value": train.running.astype(np.float64)})
    signals = {STATE_TAG: (state.filter(pl.col("time") < as_of), 2 * STEP)}
    true, false = spans(condition, signals), spans(condition.negated, signals)
    return settled(true, SETTLE), union([false, settling(true, SETTLE)])
