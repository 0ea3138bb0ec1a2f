"""Bad input: a clear sentence each, the rest done, exit status 3, nothing lost."""

from pathlib import Path

import polars as pl
import pytest

from tests.job.conftest import REPOSITORY, Stillwell, copy_plant

SOUND = "water-2026-W46.csv"


@pytest.fixture
def plant(tmp_path: Path) -> Path:
    return copy_plant(tmp_path / "plant", keep=lambda name: name == SOUND)


def _trends(plant: Path) -> Path:
    return plant / "sample_exports" / "trends"


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("empty.csv", b"", "empty"),
        ("picture.csv", b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR" + bytes(range(256)) + b"\n", "not"),
        ("no-time.csv", b"Raw flow,AIT-102\n1.02,7.4\n1.03,7.4\n", "time"),
        ("only-header.csv", b"Time,Raw flow\n", "no"),
    ],
)
def test_a_file_that_cannot_be_read_is_named_and_the_rest_is_done(
    plant: Path, stillwell: Stillwell, name: str, content: bytes, words: str
) -> None:
    (_trends(plant) / name).write_bytes(content)
    done = stillwell(plant, "run")
    assert done.returncode == 3, done.stdout + done.stderr
    assert name in done.stderr
    assert words in done.stderr
    assert "Traceback" not in done.stderr
    assert (plant / "reports" / "2026-W46" / "weekly.html").is_file()
    assert pl.read_csv(plant / "archive" / "ledger.csv")["file"].to_list() == [
        f"sample_exports/trends/{SOUND}"
    ]


def test_an_unknown_tag_is_refused_with_its_readings_and_the_others_are_stored(
    plant: Path, stillwell: Stillwell
) -> None:
    text = "Time,Raw flow,Fish count\n11/16/2026 00:00,1.02,7\n11/16/2026 00:15,1.03,8\n"
    (_trends(plant) / "more.csv").write_text(text, encoding="utf-8")
    done = stillwell(plant, "run")
    assert done.returncode == 3
    ledger = pl.read_csv(plant / "archive" / "ledger.csv").filter(pl.col("file").str.ends_with("more.csv"))
    assert ledger.select("read", "stored", "refused").row(0) == (4, 2, 2)
    refused = pl.read_csv(plant / "archive" / "refused" / f"{ledger['source'][0]}.csv")
    assert refused.height == 2
    assert refused["reason"].str.contains("Fish count").all()


def test_an_unknown_unit_in_the_config_is_named_with_file_row_and_column(
    plant: Path, stillwell: Stillwell
) -> None:
    tags = plant / "config" / "tags.csv"
    tags.write_text(
        tags.read_text(encoding="utf-8").replace(",flow,MGD,", ",flow,MGPD,", 1), encoding="utf-8"
    )
    done = stillwell(plant, "check")
    assert done.returncode == 2
    assert "config/tags.csv, row 2, column unit: 'MGPD'" in done.stderr


def test_all_faults_of_a_config_are_named_at_once(plant: Path, stillwell: Stillwell) -> None:
    limits = plant / "config" / "limits.csv"
    text = (
        limits.read_text(encoding="utf-8").replace("AIT-122", "AIT-922").replace("daily_mean", "dayly_mean")
    )
    limits.write_text(text, encoding="utf-8")
    done = stillwell(plant, "check")
    assert done.returncode == 2
    assert "column tag: no tag 'AIT-922'" in done.stderr
    assert "column statistic: no statistic 'dayly_mean'" in done.stderr


def test_a_folder_that_is_no_plant_is_named(tmp_path: Path, stillwell: Stillwell) -> None:
    done = stillwell(tmp_path / "nowhere", "run")
    assert done.returncode == 2
    assert "nowhere" in done.stderr
    assert "--plant" in done.stderr


def test_a_week_that_is_not_in_the_archive_is_named(plant: Path, stillwell: Stillwell) -> None:
    stillwell(plant, "ingest")
    done = stillwell(plant, "report", "--week", "2019-W01")
    assert done.returncode == 2
    assert "2019-W01" in done.stderr


def test_the_sound_plant_of_these_tests_is_sound(plant: Path, stillwell: Stillwell) -> None:
    assert stillwell(plant, "run").returncode == 0
    assert (REPOSITORY / "config").is_dir()
