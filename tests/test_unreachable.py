"""What the system does not let us open is told in a sentence with its name, never as a fault of our own."""

import shutil
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest
from click.testing import CliRunner

from pipeline.cli import main
from pipeline.config.load import Plant
from pipeline.errors import RefusedError, StillwellError, of_the_system
from pipeline.intake import take_in

NOW = datetime(2026, 11, 16, 12, tzinfo=UTC)
WIDE = "Time,Filter turbidity\n2026-01-31 16:45,0.02\n2026-01-31 17:00,0.03\n"
LATER = "Time,Filter turbidity\n2026-01-31 17:15,0.04\n"


def _said(plant: Plant, *words: str) -> tuple[int, str]:
    result = CliRunner().invoke(main, ["--plant", str(plant.folder), *words])
    return result.exit_code, result.output


def test_a_missing_trends_folder_is_refused_by_name(make_plant: Callable[..., Plant]) -> None:
    """Silence would look like a week without exports."""
    plant = make_plant(week=WIDE)
    shutil.rmtree(plant.folder / "trends")
    (fault,) = (intake := take_in(plant, now=NOW)).faults
    assert fault.file == "trends"
    assert "check its name" in fault.remedy
    assert intake.exit_status == RefusedError.exit_status


def test_a_folder_named_as_an_export_is_called_one(make_plant: Callable[..., Plant]) -> None:
    plant = make_plant(week=WIDE)
    (fault,) = take_in(plant, files=[plant.folder / "trends"], now=NOW).faults
    assert fault.problem == "this is a folder"


@pytest.mark.parametrize("name", ["tags.csv", "plant.toml", "limits.csv"])
def test_a_folder_in_place_of_a_config_file(make_plant: Callable[..., Plant], name: str) -> None:
    plant = make_plant()
    (plant.folder / "config" / name).unlink()
    (plant.folder / "config" / name).mkdir()
    status, told = _said(plant, "check")
    assert status == StillwellError.exit_status
    assert name in told
    assert "Traceback" not in told


def test_an_answer_for_a_folder_that_is_not_there(make_plant: Callable[..., Plant]) -> None:
    plant = make_plant(week=WIDE)
    take_in(plant, now=NOW)
    answer = plant.folder / "nowhere" / "answer.csv"
    status, told = _said(plant, "query", "SELECT * FROM trends", "--output", str(answer))
    assert status == StillwellError.exit_status
    assert "there is no such folder" in told


def test_a_damaged_file_of_the_archive_is_named(make_plant: Callable[..., Plant]) -> None:
    plant = make_plant(week=WIDE)
    take_in(plant, now=NOW)
    stored = sorted(plant.archive.glob("trends/*/*.parquet"))[-1]
    stored.write_bytes(stored.read_bytes()[:100])
    (plant.folder / "trends" / "later.csv").write_text(LATER)
    with pytest.raises(StillwellError, match=rf"{stored.name}: the file is damaged"):
        take_in(plant, now=NOW)


def test_only_what_the_system_forbids_is_explained() -> None:
    assert of_the_system(FileNotFoundError(2, "No such file or directory", "x")) is None
    told = of_the_system(PermissionError(13, "Permission denied", str(Path("archive", "ledger.csv"))))
    assert told is not None
    assert "ledger.csv: Permission denied" in str(told)
