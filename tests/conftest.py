"""What the tests of the middle share: a tag, an instrument, and a Case made from a record in memory."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import polars as pl
import pytest

from pipeline.baseline.daily import daily_values
from pipeline.baseline.pairs import pairs
from pipeline.baseline.states import union, within
from pipeline.baseline.stuck import stuck_runs
from pipeline.case import READINGS, SPANS, Case
from pipeline.clock import to_local
from pipeline.config.instruments import Instrument
from pipeline.config.limits import Limit
from pipeline.config.tags import Tag
from pipeline.table import CALIBRATIONS, TIME, conform

DENVER = ZoneInfo("America/Denver")


def _tag(**changes):
    given = {
        "row": 2,
        "tag": "AIT-101",
        "area": "plant",
        "measures": "ph",
        "unit": "pH",
        "instrument": "AE-101",
    }
    return Tag(**{**given, "low": 0.0, "high": 14.0, "resolution": 0.01, **changes})


def _instrument(**changes):
    given = {"row": 2, "instrument": "AE-101", "tolerance": 0.2, "tolerance_source": "plant standard"}
    return Instrument(**{**given, **changes})


def _limit(**changes):
    return Limit(**{"row": 2, "limit_id": "L1", "tag": "AIT-101", **changes})


def _grid(start, days, step_s=900):
    """Regular UTC times, `days` long."""
    count = round(days * 86_400 / step_s)
    first = np.int64(start.timestamp() * 1_000_000)
    stamps = pl.Series("time", first + np.arange(count) * np.int64(step_s * 1_000_000))
    return stamps.cast(pl.Datetime("us")).dt.replace_time_zone("UTC")


def _frame(times, values, good=True, in_state=True):
    """READINGS before they are judged."""
    every = pl.DataFrame({"time": times, "value": np.asarray(values, dtype=float)}).fill_nan(None)
    told = {"good": good, "in_state": in_state}
    every = every.with_columns(
        pl.Series(name, np.broadcast_to(np.asarray(mark, bool), every.height).copy())
        for name, mark in told.items()
    )
    return every.with_columns(
        pl.col("time").cast(TIME), (pl.col("good") & pl.col("value").is_not_null()).alias("good")
    )


def _events(times, values):
    return pl.DataFrame(
        {"time": list(times), "value": list(values)}, schema={"time": TIME, "value": pl.Float64()}
    )


def _services(times, kind="calibration", instrument="AE-101"):
    rows = [{"instrument": instrument, "time": time, "kind": kind} for time in times]
    return pl.DataFrame(rows, schema={"instrument": pl.String(), "time": TIME, "kind": pl.String()})


def _case(frame, tag=None, instrument=None, grabs=None, services=None, masked=None, as_of=None, zone=DENVER):
    """Put a Case together the way it is gathered, from what lies before `as_of` alone.

    `frame` holds ``time, value, good, in_state``; `grabs` and `services` are ``time, ...`` frames.
    """
    tag = tag or _tag()
    step = timedelta(seconds=tag.step_s)
    as_of = as_of or frame["time"][-1] + step
    frame = frame.filter(pl.col("time") < as_of)
    in_span = pl.col("value").is_between(
        pl.lit(-np.inf if tag.low is None else tag.low), pl.lit(np.inf if tag.high is None else tag.high)
    )
    sound = (pl.col("good") & pl.col("in_state") & in_span).fill_null(False)
    stuck = stuck_runs(frame.select("time", "value", sound.alias("sound")), step, zone)
    judged = frame.with_columns(within(frame["time"], stuck).alias("stuck"))
    readings = conform(judged.with_columns((sound & ~pl.col("stuck")).alias("usable")), READINGS)
    grabs = _events([], []) if grabs is None else grabs
    services = _services([]) if services is None else services
    services = services.filter(pl.col("time") < as_of)
    masked = pl.DataFrame(schema=SPANS) if masked is None else masked
    day = to_local(pl.col("time"), zone).dt.date()
    return Case(
        tag=tag,
        instrument=instrument,
        zone=zone,
        as_of=as_of,
        readings=readings,
        daily=daily_values(tag, readings, stuck, zone),
        stuck=stuck,
        pairs=pairs(readings, grabs.filter(pl.col("time") < as_of), step, day, stuck),
        services=conform(
            services.with_columns(
                pl.lit(None).alias(name) for name in CALIBRATIONS if name not in services.columns
            ),
            CALIBRATIONS,
        ),
        masked=union(
            [
                masked.with_columns(pl.min_horizontal("end", pl.lit(as_of, dtype=TIME)).alias("end")).filter(
                    pl.col("start") < pl.col("end")
                )
            ]
        ),
    )


def _noise(random, count, phi, sd):
    """AR(1) noise of standard deviation `sd`."""
    from scipy.signal import lfilter

    shocks = random.normal(0, sd * np.sqrt(1 - phi**2), count)
    shocks[0] /= np.sqrt(1 - phi**2)
    return lfilter([1.0], [1.0, -phi], shocks)


class Make:
    """Makers of what the middle works on."""

    zone = DENVER
    tag = staticmethod(_tag)
    instrument = staticmethod(_instrument)
    limit = staticmethod(_limit)
    grid = staticmethod(_grid)
    frame = staticmethod(_frame)
    events = staticmethod(_events)
    services = staticmethod(_services)
    case = staticmethod(_case)
    noise = staticmethod(_noise)

    @staticmethod
    def utc(year, month, day, hour=0, minute=0):
        """A UTC instant."""
        return datetime(year, month, day, hour, minute, tzinfo=UTC)

    @staticmethod
    def local(year, month, day, hour=0, minute=0):
        """A Denver wall-clock instant, as UTC."""
        return datetime(year, month, day, hour, minute, tzinfo=DENVER).astimezone(UTC)


@pytest.fixture(scope="session")
def make():
    return Make
