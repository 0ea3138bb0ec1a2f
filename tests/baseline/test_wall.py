"""Wall: the same wall clock as converting every instant by itself."""

from datetime import timedelta, timezone
from zoneinfo import ZoneInfo

import numpy as np
import polars as pl
import pytest

from pipeline.baseline.wall import wall_us
from pipeline.clock import to_local

ZONES = [
    *(ZoneInfo(name) for name in ("America/Denver", "Australia/Lord_Howe", "Europe/Dublin", "UTC")),
    timezone(timedelta(hours=-7)),
]
"""Lord Howe Island moves by half an hour only (tz database)."""


@pytest.mark.parametrize("zone", ZONES, ids=str)
def test_it_is_the_conversion_of_every_instant(zone):
    time_us = np.sort(np.random.default_rng(1).integers(1_600_000_000, 1_700_000_000, 50_000)) * 1_000_000
    frame = pl.DataFrame({"us": time_us}).select(pl.from_epoch("us", "us").dt.replace_time_zone("UTC"))
    expected = frame.select(to_local(pl.col("us"), zone).to_physical())["us"].to_numpy()
    assert (wall_us(time_us, zone) == expected).all()


def test_the_second_at_which_the_clock_changes(make):
    """Summer time ends on 1 November 2026 at 2:00, 08:00 UTC in Denver (15 USC 260a)."""
    change = int(make.utc(2026, 11, 1, 8).timestamp())
    time_us = np.array([change - 86_400, change - 1, change, change + 86_400]) * 1_000_000
    hours = (wall_us(time_us, make.zone) - time_us) / 3_600e6
    assert hours.tolist() == [-6.0, -6.0, -7.0, -7.0]


def test_no_instant_is_no_wall(make):
    assert len(wall_us(np.empty(0, np.int64), make.zone)) == 0
