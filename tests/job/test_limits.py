"""The demo's limits on its pages against what the simulator knows, and the month for the operator's form."""

import re
from datetime import datetime, timedelta
from pathlib import Path

import polars as pl
import pytest

from tests.job.conftest import REPOSITORY, Stillwell

TRUTH = REPOSITORY / "sample_exports" / "truth"
WEEK = tuple(datetime.fromisoformat(f"2026-11-{day:02d}T00:00:00-07:00") for day in (9, 16))
FOUR_HOURS = timedelta(hours=4)


@pytest.fixture(scope="module")
def limits(week: Path) -> pl.DataFrame:
    return pl.read_csv(week / "limits.csv")


@pytest.fixture(scope="module")
def month(harrow_fork: Path, week: Path, stillwell: Stillwell) -> Path:
    done = stillwell(harrow_fork, "report", "--month", "2026-10")
    assert done.returncode == 0, done.stderr
    return harrow_fork / "reports" / "2026-10"


def test_outside_are_those_that_the_simulator_put_outside_and_all_others_within(limits: pl.DataFrame) -> None:
    truth = pl.read_csv(TRUTH / "excursions.csv").filter(pl.col("end") > "2026-11-09")
    outside = limits.filter(pl.col("status") == "outside")["limit_id"]
    assert set(outside) == set(truth["limit_id"])
    assert set(limits["status"]) == {"outside", "within"}
    assert len(limits) >= 40


def test_every_kind_of_rule_is_shown(limits: pl.DataFrame) -> None:
    assert set(limits["statistic"]) >= {
        *("instantaneous", "two_consecutive", "two_consecutive_at_four_hours", "months_in_a_row"),
        *("month_share_four_hourly", "longest_excursion", "month_minutes", "days_outside_half_year"),
        *("running_annual_average", "undetected_two_months", "seven_day_mean", "thirty_day_mean"),
        *("month_removal", "daily_mean", "daily_min", "daily_max"),
        *("giardia_inactivation", "virus_inactivation", "giardia_month_mean", "disinfection_benchmark"),
    }


@pytest.mark.parametrize("number", [1, 2, 3, 4])
def test_runs_of_a_filter_are_those_that_begin_with_its_backwashes(week: Path, number: int) -> None:
    """A run is looked at where its four hours end in the week, and no wash ends it before."""
    operations = pl.read_csv(TRUTH / "operations.csv")
    washes = operations.filter((pl.col("kind") == "backwash") & (pl.col("subject") == f"YS-12{number}"))
    begins = [datetime.fromisoformat(text) for text in washes["start"]]
    ends = [datetime.fromisoformat(text) for text in washes["end"]]
    marks = [end + FOUR_HOURS for end in ends if WEEK[0] <= end + FOUR_HOURS < WEEK[1]]
    assert not any(mark - FOUR_HOURS < begin < mark for mark in marks for begin in begins)
    page = (week / "weekly.html").read_text(encoding="utf-8")
    row = re.search(rf'<tr id="limit-IFE-12{number}-4H".*?</tr>', page, re.S)
    assert row
    assert f"{len(marks)} of {len(marks)} runs" in row[0]


def test_a_month_has_every_limit_with_value_coverage_and_worst(month: Path) -> None:
    table = pl.read_csv(month / "limits.csv")
    assert (
        table["limit_id"].to_list() == pl.read_csv(REPOSITORY / "config" / "limits.csv")["limit_id"].to_list()
    )
    assert table["value"].null_count() == 0
    assert table["coverage_pct"].min() > 90  # type: ignore[operator]
    monthly = table.filter(pl.col("statistic").str.starts_with("month_"))
    assert set(monthly["period_start"]) == {"2026-10-01T00:00:00-06:00"}
    # 31 October is the eve of the change of the clocks: midnight after it is still daylight time.
    assert set(monthly["period_end"]) == {"2026-11-01T00:00:00-06:00"}


def test_a_month_counts_six_readings_a_day(month: Path) -> None:
    """40 CFR 141.74(c)(1): every 4 hours; October has 31 days, 186 readings."""
    page = (month / "weekly.html").read_text(encoding="utf-8")
    assert "0 of 186 4-hourly values outside" in page


def test_a_month_prints_disinfection_day_by_day_with_the_lowest_residual_of_the_record(
    harrow_fork: Path, month: Path
) -> None:
    """Each day's lowest residual at the entry point is what 40 CFR 141.75(b)(2) has reported."""
    page = (month / "weekly.html").read_text(encoding="utf-8")
    section = page[page.index('<section id="disinfection"') :]
    told = re.findall(r'<td data-name="Lowest Cl2">([0-9.]+)</td>', section)
    files = [str(path) for path in (harrow_fork / "archive" / "trends").rglob("*.parquet")]
    day = pl.col("time").dt.convert_time_zone("America/Denver").dt.date()
    lowest = (
        pl.scan_parquet(files)
        .filter((pl.col("tag") == "AIT-131") & (pl.col("quality") == "good"))
        .with_columns(day.alias("day"))
        .filter(pl.col("day").dt.strftime("%Y-%m") == "2026-10")
        .group_by("day")
        .agg(pl.col("value").min())
        .sort("day")
        .collect()
    )
    assert told == [f"{value:.2f}" for value in lowest["value"]]
    assert len(told) == 31


def test_a_doubtful_analyser_is_told_with_what_its_limits_would_come_to(week: Path) -> None:
    """The chlorine analyser reads low in truth: the target was missed as recorded, perhaps not in fact."""
    page = (week / "weekly.html").read_text(encoding="utf-8")
    row = re.search(r'<tr id="limit-CL2-LOW".*?</tr>', page, re.S)
    assert row
    assert "AE-131 in doubt" in row[0]
    assert re.search(r"outside to (within|near); for review", row[0])


def test_the_page_can_be_mailed(week: Path, month: Path) -> None:
    for folder in (week, month):
        assert (folder / "weekly.html").stat().st_size <= 5_000_000
