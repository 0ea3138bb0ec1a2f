"""One demo plant for all tests of the demo, made once, and a plain reader for its weekly files."""

from collections.abc import Callable
from pathlib import Path

import polars as pl
import pytest

from pipeline.demo.calendar import Calendar, make_calendar
from pipeline.demo.plant import make_plant
from pipeline.demo.sheets import Sheets, read_sheets
from pipeline.demo.truewater import make_water
from pipeline.demo.water import Signals


@pytest.fixture(scope="session")
def plant(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("harrow-fork")
    make_plant(folder, weeks=60, seed=1, step_minutes=15)
    return folder


@pytest.fixture(scope="session")
def calendar() -> Calendar:
    return make_calendar(60, 15)


@pytest.fixture(scope="session")
def sheets() -> Sheets:
    return read_sheets()


@pytest.fixture(scope="session")
def water(calendar: Calendar) -> Signals:
    return make_water(1, calendar)


@pytest.fixture(scope="session")
def trend(plant: Path) -> Callable[[str], pl.DataFrame]:
    """Return a reader of one weekly file, all text."""
    return lambda name: pl.read_csv(plant / "sample_exports/trends" / name, infer_schema=False)


@pytest.fixture(scope="session")
def paper(plant: Path) -> Callable[[str], pl.DataFrame]:
    """Return a reader of one small table, all text, empty cells as empty text."""
    return lambda name: pl.read_csv(plant / "sample_exports" / name, infer_schema=False).fill_null("")


@pytest.fixture(scope="session")
def last_week(trend: Callable[[str], pl.DataFrame]) -> pl.DataFrame:
    """Water and wastewater of 2026-W46 side by side, numbers by tag, wall clock as `Time`."""
    names = {tag.export_name: tag.tag for tag in read_sheets().tags.values()}
    water = trend("water-2026-W46.csv")
    sewage = trend("wastewater-2026-W46.csv").drop("Time")
    table = pl.concat([water, sewage], how="horizontal").rename(names, strict=False)
    return table.with_columns(
        pl.col("Time").str.to_datetime("%m/%d/%Y %H:%M"), pl.exclude("Time").cast(pl.Float64)
    )
