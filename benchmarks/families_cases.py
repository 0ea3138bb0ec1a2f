"""Cases: a simulated train put together as the job would have gathered it."""

from datetime import datetime, timedelta

import numpy as np
import polars as pl

from benchmarks.families import shown_as
from benchmarks.families_sensors import START, ZONE, Sensor, Train
from pipeline.baseline.states import Condition, settled, settling, spans, union
from pipeline.case import Case
from pipeline.casebook import case_of, with_twin
from pipeline.clock import midnight
from pipeline.config.expressions import parse
from pipeline.config.instruments import Instrument
from pipeline.config.tags import Tag
from pipeline.neighbours.join import with_neighbours
from pipeline.table import CALIBRATIONS, TIME, empty

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
        resolution=m.resolution, step_s=sensor.step_s, instrument=device(sensor), valid_when=VALID_WHEN,
        recording="on change" if sensor.heartbeat_s else "interval", heartbeat_s=sensor.heartbeat_s,
        twin="" if sensor.twin is None else f"{sensor.name}B",
    )  # fmt: skip


def device(sensor: Sensor) -> str:
    """Return the instrument's id."""
    return sensor.name.replace("AIT", "AE")


def instrument_of(sensor: Sensor) -> Instrument:
    """Return the line of instruments.csv."""
    m = sensor.measure
    allowed = {"tolerance_pct": 100 * m.tolerance} if m.is_log else {"tolerance": m.tolerance}
    return Instrument(row=2, instrument=device(sensor), service_days=sensor.service_days, **allowed)


def readings_of(time: pl.Series, sensor: Sensor) -> pl.DataFrame:
    """``time, value`` of the recorder at its own step; null where it kept nothing."""
    shown = pl.DataFrame({"time": time, "value": sensor.shown})
    if sensor.between is not None:
        later = [
            pl.DataFrame({"time": time + timedelta(seconds=sensor.step_s * (part + 1)), "value": column})
            for part, column in enumerate(sensor.between.T)
        ]
        shown = pl.concat([shown, *(one.with_columns(time=pl.col("time").cast(TIME)) for one in later)])
    return shown.fill_nan(None).sort("time")


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
    """Return the case of one sensor as known at `as_of`, with what its twin and its neighbour tell of it."""
    in_state, masked = _spans(train, as_of)
    known = _alone(train, sensor, as_of, in_state, masked)
    twin = _twin_of(train, sensor, as_of, in_state, masked)
    company = {sensor.name: with_twin(known, twin)} | ({} if twin is None else {twin.tag.tag: twin})
    if any(fault.kind == "copied" for fault in sensor.faults):
        source = train.sensors[max(int(sensor.name[-3:]) - 2, 0)]
        company = {source.name: _alone(train, source, as_of, in_state, masked)} | company
    return with_neighbours(company)[sensor.name]


def _alone(
    train: Train, sensor: Sensor, as_of: datetime, in_state: pl.DataFrame, masked: pl.DataFrame
) -> Case:
    samples = readings_of(train.time, sensor).drop_nulls()
    samples = samples.filter(pl.col("time") < as_of).with_columns(good=pl.lit(True))
    grabs = grabs_of(sensor, train.time).filter(pl.col("time") < as_of)
    services = services_of(sensor, train.time).filter(pl.col("time") < as_of)
    return case_of(
        tag_of(sensor), instrument_of(sensor), ZONE, as_of, samples, in_state, masked, grabs, services
    )


def _twin_of(
    train: Train, sensor: Sensor, as_of: datetime, in_state: pl.DataFrame, masked: pl.DataFrame
) -> Case | None:
    """Return the case of the near-duplicate, of which no grabs and no services are known."""
    if sensor.twin is None:
        return None
    samples = pl.DataFrame({"time": train.time, "value": sensor.twin}).fill_nan(None).drop_nulls()
    samples = samples.filter(pl.col("time") < as_of).with_columns(good=pl.lit(True))
    tag = tag_of(sensor).model_copy(update={"tag": f"{sensor.name}B", "instrument": f"{device(sensor)}B"})
    device_b = instrument_of(sensor).model_copy(update={"instrument": tag.instrument})
    none = empty({"time": TIME, "value": pl.Float64()})
    return case_of(tag, device_b, ZONE, as_of, samples, in_state, masked, none, empty(CALIBRATIONS))


def _spans(train: Train, as_of: datetime) -> tuple[pl.DataFrame, pl.DataFrame]:
    if as_of not in train.kept:
        train.kept[as_of] = _spans_until(train, as_of)
    spans: tuple[pl.DataFrame, pl.DataFrame] = train.kept[as_of]
    return spans


def _spans_until(train: Train, as_of: datetime) -> tuple[pl.DataFrame, pl.DataFrame]:
    expression = parse(VALID_WHEN)
    condition = Condition(expression.condition, tuple(expression.names))
    state = pl.DataFrame({"time": train.time, "value": train.running.astype(np.float64)})
    signals = {STATE_TAG: (state.filter(pl.col("time") < as_of), 2 * STEP)}
    true, false = spans(condition, signals)
    return settled(true, SETTLE), union([false, settling(true, SETTLE)])
