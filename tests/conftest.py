"""What the tests of the middle share: a tag, an instrument, and a Case made from a record in memory."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import polars as pl
import pytest
from hypothesis import settings

from pipeline.baseline.states import union
from pipeline.casebook import case_of
from pipeline.config.instruments import Instrument
from pipeline.config.limits import Limit
from pipeline.config.tags import Tag
from pipeline.facts import SPANS
from pipeline.table import CALIBRATIONS, TIME

# The same examples every time, and no stop-watch: a busy machine is no failure.
settings.register_profile("steady", deadline=None, derandomize=True)
settings.register_profile("wide", deadline=None, max_examples=2000)
settings.load_profile("steady")

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
    return pl.DataFrame(rows, schema=CALIBRATIONS)


def _case(
    frame,
    tag=None,
    instrument=None,
    grabs=None,
    services=None,
    masked=None,
    as_of=None,
    zone=DENVER,
    changes=None,
):
    """Return the Case of a record, from what lies before `as_of` alone.

    `frame` holds ``time, value, good, in_state``; `grabs` and `services` are ``time, ...`` frames, `changes`
    the times at which its state changed.
    """
    tag = tag or _tag()
    if as_of is None:
        as_of = frame["time"][-1] + timedelta(seconds=tag.step_s)
    known = pl.col("time") < as_of
    frame = frame.filter(known)
    at = pl.col("time").alias("start")
    stands = timedelta(microseconds=1) if tag.recording == "interval" else min(tag.hold, timedelta(days=1))
    in_state = union([frame.filter("in_state").select(at, (at + stands).alias("end"))])
    masked = pl.DataFrame(schema=SPANS) if masked is None else masked
    cut = pl.min_horizontal("end", pl.lit(as_of, dtype=TIME)).alias("end")
    return case_of(
        tag,
        instrument,
        zone,
        as_of,
        frame.select("time", "value", "good"),
        in_state,
        union([masked.with_columns(cut).filter(pl.col("start") < pl.col("end"))]),
        (_events([], []) if grabs is None else grabs).filter(known),
        (_services([]) if services is None else services).filter(known),
        None if changes is None else pl.Series("time", [at for at in changes if at < as_of], dtype=TIME),
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
