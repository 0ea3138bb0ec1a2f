"""Exports look like a control system's: local weeks, both nights of the time change, holes left empty."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TypeAlias
from zoneinfo import ZoneInfo

import polars as pl
import pytest

Reader: TypeAlias = Callable[[str], pl.DataFrame]
DENVER = ZoneInfo("America/Denver")


def quarters_of(day: datetime) -> int:
    """Count the quarter hours of a local day with the tz database's own arithmetic."""
    start = day.replace(tzinfo=DENVER).astimezone(UTC)
    end = (day + timedelta(days=1)).replace(tzinfo=DENVER).astimezone(UTC)
    return int((end - start).total_seconds() // 900)


@pytest.mark.parametrize(
    ("day", "week", "expected"),
    [("2025-11-02", "2025-W44", 100), ("2026-03-08", "2026-W10", 92), ("2026-11-01", "2026-W44", 100)],
)
def test_days_of_the_time_change(trend: Reader, day: str, week: str, expected: int) -> None:
    assert quarters_of(datetime.fromisoformat(day)) == expected
    american = datetime.fromisoformat(day).strftime("%m/%d/%Y")
    for name in ("water", "wastewater"):
        times = trend(f"{name}-{week}.csv")["Time"]
        assert times.str.starts_with(american).sum() == expected
    rows = trend(f"wells-{week}.csv").filter(pl.col("Tag") == "LIT-201")
    assert rows["Time"].str.starts_with(day).sum() == expected


def test_the_repeated_hour_stands_twice_in_order(trend: Reader) -> None:
    times = trend("water-2026-W44.csv")["Time"]
    hour = times.filter(times.str.starts_with("11/01/2026 01")).to_list()
    assert hour == [f"11/01/2026 01:{minute:02d}" for minute in (0, 15, 30, 45)] * 2


def test_the_missing_hour_is_missing(trend: Reader) -> None:
    times = trend("water-2026-W10.csv")["Time"]
    assert times.str.starts_with("03/08/2026 01").sum() == 4
    assert times.str.starts_with("03/08/2026 02").sum() == 0


def test_a_file_holds_one_local_week(plant: Path) -> None:
    for path in sorted((plant / "sample_exports/trends").glob("water-*.csv")):
        week = path.stem.removeprefix("water-")
        times = pl.read_csv(path, columns=["Time"])["Time"].str.to_datetime("%m/%d/%Y %H:%M")
        monday = datetime.strptime(f"{week}-1", "%G-W%V-%u")
        assert times[0] == monday
        assert times[-1] == monday + timedelta(days=7) - timedelta(minutes=15)


def test_wells_carry_offsets_and_quality(trend: Reader) -> None:
    """Classic OPC quality: 192 good, 64 uncertain, 24 communication failure (OPC DA 2.05, from memory)."""
    table = pl.concat([trend(f"wells-2026-W{week}.csv") for week in (10, 30, 46)])
    assert set(table["Quality"]) == {"192", "64", "24"}
    assert table["Time"].str.contains(r"^\d{4}-\d\d-\d\dT\d\d:\d\d:00-0[67]:00$").all()
    assert (table["Value"].is_null() == (table["Quality"] == "24")).all()


@pytest.mark.parametrize("number", [1, 2])
def test_states_on_change_have_a_row_at_every_change(trend: Reader, number: int) -> None:
    table = trend("wells-2026-W45.csv").sort("Time", maintain_order=True)
    pump = table.filter(pl.col("Tag") == f"YS-20{number}").select("Time", "Value")
    flow = table.filter(pl.col("Tag") == f"Well {number} flow").select("Time", flow="Value")
    held = flow.join(pump, on="Time", how="left").with_columns(pl.col("Value").forward_fill())
    assert pump.height < flow.height / 3
    assert ((held["Value"] == "1") == (held["flow"].cast(pl.Float64) > 0)).all()


def test_numbers_carry_no_more_than_the_resolution(last_week: pl.DataFrame) -> None:
    for tag, step in (
        ("AIT-131", 0.01),
        ("AIT-123", 0.001),
        ("AIT-541", 0.01),
        ("TIT-541", 0.1),
        ("LIT-301", 0.01),
    ):
        steps = last_week[tag].drop_nulls() / step
        assert (steps - steps.round()).abs().max() < 1e-6  # type: ignore[operator]


def test_raw_temperature_is_written_in_fahrenheit(last_week: pl.DataFrame) -> None:
    """12 to 13 degC is 53.6 to 55.4 degF (definition of the scale); mid November, common practice."""
    assert 50.0 < last_week["TIT-101"].mean() < 58.0  # type: ignore[operator]
