"""The report of the demo's last week against what the simulator knows it put there.

The truth is written by the simulator from its own numbers, by code that shares nothing with the job.
"""

from pathlib import Path

import polars as pl
import pytest

from tests.job.conftest import REPOSITORY

TRUTH = REPOSITORY / "sample_exports" / "truth"
MOST_FALSE_ENTRIES = 2


@pytest.fixture(scope="module")
def weeks_faults() -> pl.DataFrame:
    """Faults that were present in the week of 9 to 15 November 2026.

    A tag that is recorded on change alone says nothing while nothing changes, so its silence is no fault
    that anybody could see.
    """
    faults = pl.read_csv(TRUTH / "faults.csv")
    tags = pl.read_csv(REPOSITORY / "config" / "tags.csv").filter(pl.col("recording") == "interval")
    here = faults.filter((pl.col("start") < "2026-11-16") & (pl.col("end") > "2026-11-09"))
    return here.filter(pl.col("tag").is_in(tags["tag"].implode()))


def test_every_excursion_is_found_to_the_sample_and_no_other(week: Path) -> None:
    columns = ["limit_id", "tag", "start", "end", "minutes"]
    found = pl.read_csv(week / "excursions.csv").select(columns).sort("limit_id", "start")
    truth = pl.read_csv(TRUTH / "excursions.csv").filter(pl.col("end") > "2026-11-09")
    expected = truth.select(columns).sort("limit_id", "start")
    assert found.cast({"minutes": pl.Float64}).rows() == expected.cast({"minutes": pl.Float64}).rows()


def test_every_excursions_worst_value_is_the_record_s(week: Path) -> None:
    found = pl.read_csv(week / "excursions.csv").select("limit_id", "start", "worst")
    truth = pl.read_csv(TRUTH / "excursions.csv").select("limit_id", "start", "worst")
    both = found.join(truth, on=["limit_id", "start"], how="inner")
    assert both.height == found.height
    # The truth is rounded to three decimals.
    assert (both["worst"] - both["worst_right"]).abs().max() <= 0.0005


def test_every_fault_is_among_the_findings_and_on_the_page(week: Path, weeks_faults: pl.DataFrame) -> None:
    found = pl.read_csv(week / "findings.csv")
    page = (week / "weekly.html").read_text(encoding="utf-8")
    named = set(found.select("tag", "kind").rows())
    for tag, kind in weeks_faults.select("tag", "kind").rows():
        assert (tag, kind) in named
        assert tag in page


def test_the_calibration_list_has_the_faulty_instruments_and_few_others(
    week: Path, weeks_faults: pl.DataFrame
) -> None:
    listed = set(pl.read_csv(week / "calibration-list.csv")["tag"])
    to_visit = weeks_faults.filter(pl.col("kind") != "gap")
    assert set(to_visit["tag"]) <= listed
    assert len(listed - set(weeks_faults["tag"])) <= MOST_FALSE_ENTRIES


def test_drifts_come_with_an_interval_that_holds_the_true_error_and_rate_of_the_right_sign(
    week: Path, weeks_faults: pl.DataFrame
) -> None:
    found = pl.read_csv(week / "findings.csv").filter(pl.col("kind") == "drift")
    both = weeks_faults.filter(pl.col("kind") == "drift").join(found, on="tag")
    assert both.height == 3
    for row in both.iter_rows(named=True):
        assert row["ci_low"] <= row["size_at_end"] <= row["ci_high"]
        assert row["rate_per_week_right"] * row["rate_per_week"] > 0
        # Half to double the true rate: a few weeks of weekly grabs tell no more.
        assert 0.5 <= row["rate_per_week_right"] / row["rate_per_week"] <= 2.0


def test_nothing_that_operators_did_is_on_the_list(week: Path) -> None:
    """Backwashes, pump changes and filter 2's nine days out of service are no faults."""
    listed = pl.read_csv(week / "calibration-list.csv")["tag"].to_list()
    operated = [f"{kind}-{number}" for kind in ("AIT", "FIT", "PDIT") for number in (121, 122, 123, 124)]
    assert not set(listed) & {*operated, "FIT-131", "PIT-131", "FIT-201", "FIT-202"}


def test_a_limit_measured_by_a_doubtful_instrument_says_so(week: Path) -> None:
    chlorine = pl.read_csv(week / "excursions.csv").filter(pl.col("tag") == "AIT-131")
    finding = chlorine["instrument_doubt"][0]
    assert finding in pl.read_csv(week / "findings.csv")["finding_id"].to_list()
