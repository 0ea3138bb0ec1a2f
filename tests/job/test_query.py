"""SQL over the archive gives what another reader of the same Parquet files gives, and changes nothing."""

import os
import shutil
from io import StringIO
from pathlib import Path

import pandas as pd
import polars as pl
import pyarrow.dataset as ds
import pytest

from tests.job.conftest import Stillwell


def test_an_aggregate_is_what_pandas_makes_of_the_same_files(harrow_fork: Path, stillwell: Stillwell) -> None:
    wanted = "tag, max(value) AS top, count(value) AS n"
    sql = f"SELECT {wanted} FROM trends WHERE tag < 'AIT-13' GROUP BY tag ORDER BY tag"
    done = stillwell(harrow_fork, "query", sql, "--format", "csv")
    assert done.returncode == 0, done.stderr
    answer = pd.read_csv(StringIO(done.stdout))
    frame = ds.dataset(harrow_fork / "archive" / "trends").to_table(columns=["tag", "value"]).to_pandas()
    expected = frame[frame["tag"] < "AIT-13"].groupby("tag")["value"].agg(top="max", n="count").reset_index()
    pd.testing.assert_frame_equal(answer, expected, check_dtype=False)


@pytest.mark.parametrize("table", ["trends", "lab", "calibrations", "findings", "excursions", "limits"])
def test_every_table_of_the_contract_answers(harrow_fork: Path, stillwell: Stillwell, table: str) -> None:
    done = stillwell(harrow_fork, "query", f"SELECT count(*) AS n FROM {table}", "--format", "csv")
    assert done.returncode == 0, done.stderr
    assert int(done.stdout.split()[1]) > 0


def test_trends_has_the_columns_of_the_contract(
    harrow_fork: Path, stillwell: Stillwell, tmp_path: Path
) -> None:
    out = tmp_path / "answer.parquet"
    sql = "SELECT * FROM trends WHERE tag = 'TIT-101' LIMIT 5"
    done = stillwell(harrow_fork, "query", sql, "--format", "parquet", "--output", str(out))
    assert done.returncode == 0, done.stderr
    answer = pl.read_parquet(out)
    assert answer.columns == ["tag", "time", "value", "quality", "raw"]
    # The export holds degrees Fahrenheit: raw is what it held, value is its conversion (32 degF = 0 degC).
    fahrenheit = answer["raw"].cast(pl.Float64)
    assert ((fahrenheit - 32) * 5 / 9 - answer["value"]).abs().max() < 1e-9


@pytest.mark.parametrize(
    ("sql", "words"),
    [
        ("DROP TABLE trends", "SELECT"),
        ("SELECT nope FROM trends", "nope"),
        ("SELECT * FROM nowhere", "nowhere"),
        ("SELECT FROM WHERE", "tables: trends"),
    ],
)
def test_a_query_that_cannot_be_answered_is_explained(
    harrow_fork: Path, stillwell: Stillwell, sql: str, words: str
) -> None:
    done = stillwell(harrow_fork, "query", sql)
    assert done.returncode == 2
    assert words in done.stderr
    assert "Traceback" not in done.stderr


def test_fractions_of_a_second_are_shown(tmp_path: Path, stillwell: Stillwell) -> None:
    """Two readings of the same second would look like one reading twice."""
    lines = [f"2026-01-05 00:00:0{n}.250,{n}.5" for n in range(9)]
    (tmp_path / "exports").mkdir()
    export = tmp_path / "exports" / "x.csv"
    export.write_text("\n".join(["Time,AIT-1", *lines, ""]), encoding="utf-8")
    os.utime(export, (0, 0))  # long finished: one that may still be written is left for the next run
    assert stillwell(tmp_path, "setup", "--time-zone", "UTC", str(tmp_path / "exports")).returncode == 0
    assert stillwell(tmp_path, "ingest").returncode == 0
    done = stillwell(tmp_path, "query", "SELECT min(time) AS first FROM trends", "--format", "csv")
    assert done.stdout.split() == ["first", "2026-01-05T00:00:00.250+00:00"]


def test_a_week_without_an_excursion_leaves_minutes_numbers_and_times_times(
    harrow_fork: Path, stillwell: Stillwell, tmp_path: Path
) -> None:
    """What README promises is SQL over every report: a sum, a comparison, whatever the other weeks held."""
    plant = tmp_path / "plant"
    shutil.copytree(harrow_fork, plant, ignore=shutil.ignore_patterns("archive"))
    every = list(plant.glob("reports/2*/excursions.csv"))
    quiet = plant / "reports" / "2020-W01"
    quiet.mkdir()
    head = every[0].read_text(encoding="utf-8").splitlines()[0]
    (quiet / "excursions.csv").write_text(head + "\n", encoding="utf-8")
    minutes = pd.concat(pd.read_csv(told) for told in every)["minutes"]
    sql = "SELECT sum(minutes) AS total FROM excursions WHERE minutes > 0 AND start > '2020-01-01'"
    done = stillwell(plant, "query", sql, "--format", "csv")
    assert done.returncode == 0, done.stderr
    assert minutes.sum() > 0
    assert float(done.stdout.split()[1]) == minutes.sum()
