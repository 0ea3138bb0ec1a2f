"""What the product promises: same in, same out; nothing lost; a week judged by what was known at its end."""

import shutil
from pathlib import Path

import polars as pl

from tests.job.conftest import Stillwell, copy_plant

CSVS = ("findings.csv", "limits.csv", "excursions.csv", "coverage.csv", "calibration-list.csv")
CONTRACT = {
    "findings.csv": "finding_id,tag,instrument,kind,severity,status,start,end,estimate,unit,ci_low,ci_high,"
    "rate_per_week,reference,evidence,check_first,tolerance,tolerance_source,verdict",
    "limits.csv": "limit_id,tag,label,statistic,period_start,period_end,value,limit_low,limit_high,unit,"
    "status,minutes_outside,longest_minutes,worst,worst_at,coverage_pct,source",
    "excursions.csv": "excursion_id,limit_id,tag,start,end,minutes,worst,worst_at,area,unit,instrument_doubt",
    "coverage.csv": "tag,expected,present,good,coverage_pct,longest_gap_minutes,last_seen",
    "calibration-list.csv": "rank,instrument,tag,place,finding_id,why,estimate,unit,tolerance,"
    "reaches_tolerance_on,last_calibrated,check_first",
}


def test_the_tables_have_the_columns_that_people_s_spreadsheets_rely_on(week: Path) -> None:
    for name, header in CONTRACT.items():
        assert (week / name).read_text(encoding="utf-8").splitlines()[0] == header


def test_a_second_run_reads_nothing_and_changes_no_byte(
    harrow_fork: Path, week: Path, stillwell: Stillwell
) -> None:
    folders = (harrow_fork / "archive", harrow_fork / "reports")
    before = {path: path.read_bytes() for folder in folders for path in folder.rglob("*") if path.is_file()}
    done = stillwell(harrow_fork, "run")
    assert done.returncode == 0
    assert "0 read" in done.stdout
    after = {path: path.read_bytes() for folder in folders for path in folder.rglob("*") if path.is_file()}
    assert after == before


def test_the_same_archive_gives_the_same_report(harrow_fork: Path, week: Path, stillwell: Stillwell) -> None:
    kept = {name: (week / name).read_bytes() for name in (*CSVS, "weekly.html", "calibration-list.html")}
    assert stillwell(harrow_fork, "report", "--week", "2026-W46").returncode == 0
    assert {name: (week / name).read_bytes() for name in kept} == kept


def test_a_week_is_judged_by_what_was_known_at_its_end(
    harrow_fork: Path, tmp_path: Path, stillwell: Stillwell
) -> None:
    """Reported late, with two more weeks in the archive, a week says what it said on its Monday."""
    then = copy_plant(tmp_path / "then", keep=lambda name: name[-12:-4] <= "2026-W44")
    assert stillwell(then, "run").returncode == 0
    assert stillwell(harrow_fork, "report", "--week", "2026-W44").returncode == 0
    try:
        for name in CSVS:
            late = (harrow_fork / "reports" / "2026-W44" / name).read_bytes()
            assert late == (then / "reports" / "2026-W44" / name).read_bytes(), name
    finally:
        shutil.rmtree(harrow_fork / "reports" / "2026-W44")


def test_every_reading_of_the_exports_is_accounted_for(harrow_fork: Path) -> None:
    ledger = pl.read_csv(harrow_fork / "archive" / "ledger.csv")
    parts = ledger["stored"] + ledger["known"] + ledger["superseded"] + ledger["refused"]
    assert (ledger["read"] == parts).all()
    stored = (
        pl.scan_parquet(harrow_fork / "archive" / "trends" / "**" / "*.parquet").select(pl.len()).collect()
    )
    assert stored.item() == ledger["stored"].sum()
    assert ledger["read"].sum() == _cells(harrow_fork / "sample_exports" / "trends")


def _cells(folder: Path) -> int:
    """Readings in the exports, counted by another program's CSV reader."""
    import pandas as pd

    count = 0
    for path in sorted(folder.iterdir()):
        table = pd.read_csv(path, dtype=str)
        count += len(table) if "Tag" in table else int(table.iloc[:, 1:].notna().to_numpy().sum())
    return count
