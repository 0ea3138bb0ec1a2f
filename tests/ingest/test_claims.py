"""Letters of standard time, against the tz database, whose own EST, MST and MST7MDT mean what they say."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from io import BytesIO
from zoneinfo import ZoneInfo

import pytest

from pipeline.config.load import Plant
from pipeline.errors import RefusedError
from pipeline.ingest.clean import Cleaned
from pipeline.ingest.export import read_export, read_slabs
from pipeline.ingest.grid import TIME


class _Kept:
    def __init__(self) -> None:
        self.parts: list[Cleaned] = []

    def take(self, cleaned: Cleaned) -> None:
        self.parts.append(cleaned)

    def forget(self) -> None:
        self.parts.clear()


def _export(clock: str, header: str, days: tuple[datetime, int]) -> bytes:
    """What a recorder on the clock of `clock` writes down every quarter hour."""
    start, count = days
    begin = start.replace(tzinfo=ZoneInfo(clock)).astimezone(UTC)
    times = (begin + timedelta(minutes=15 * k) for k in range(96 * count))
    lines = (f"{time.astimezone(ZoneInfo(clock)):%Y-%m-%d %H:%M},1.02" for time in times)
    return "\n".join([f"{header},AIT-2", *lines, ""]).encode()


SUMMER, SPRING, AUTUMN = (datetime(2026, 7, 6), 1), (datetime(2026, 3, 7), 3), (datetime(2026, 10, 31), 3)


@pytest.mark.parametrize("days", [SUMMER, SPRING, AUTUMN])
def test_mst_is_what_the_tz_database_says(
    make_plant: Callable[..., Plant], days: tuple[datetime, int]
) -> None:
    data = _export("MST", "Time (MST)", days)
    readings = read_export(data, "x.csv", "s", make_plant()).readings
    begin = days[0].replace(tzinfo=ZoneInfo("MST")).astimezone(UTC)
    assert readings["time"].to_list() == [begin + timedelta(minutes=15 * k) for k in range(96 * days[1])]


@pytest.mark.parametrize("days", [SPRING, AUTUMN])
def test_a_wall_clock_that_is_called_mst_is_refused(
    make_plant: Callable[..., Plant], days: tuple[datetime, int]
) -> None:
    data, plant = _export("MST7MDT", "Time (MST)", days), make_plant()
    with pytest.raises(RefusedError, match="its clock follows the change"):
        read_export(data, "x.csv", "s", plant)
    with pytest.raises(RefusedError, match="its clock follows the change"):
        read_slabs(BytesIO(data), "x.csv", plant, _Kept())


def test_the_plant_may_say_what_its_exports_mean(make_plant: Callable[..., Plant]) -> None:
    plant = make_plant(reading='time_zone = "America/Denver"')
    kept = _Kept()
    read_slabs(BytesIO(_export("MST7MDT", "Time (MST)", SPRING)), "x.csv", plant, kept)
    [part] = kept.parts
    begin = SPRING[0].replace(tzinfo=ZoneInfo("MST7MDT")).astimezone(UTC)
    assert part.plain is not None and part.refused.is_empty()
    assert part.plain[TIME].to_list() == [begin + timedelta(minutes=15 * k) for k in range(96 * 3)]


def test_exports_without_a_zone_may_keep_standard_time_beside_a_plant_that_does_not(
    make_plant: Callable[..., Plant],
) -> None:
    plant = make_plant(reading='time_zone = "-07:00"')
    readings = read_export(_export("MST", "Time", SUMMER), "x.csv", "s", plant).readings
    assert readings["time"][0] == datetime(2026, 7, 6, 7, tzinfo=UTC)


def test_a_pause_in_the_night_of_another_country_s_change_is_a_pause(
    make_plant: Callable[..., Plant],
) -> None:
    """Europe's clocks skip 02:00 on 29 March 2026, Denver's do not."""
    data = _export("MST", "Time (MST)", (datetime(2026, 3, 28), 3))
    lines = [line for line in data.decode().split("\n") if not line.startswith("2026-03-29 02:")]
    export = read_export("\n".join(lines).encode(), "x.csv", "s", make_plant())
    assert export.readings.height == 96 * 3 - 4
