"""The demo is a function of its seed: same in, same bytes; and the repository holds what it makes."""

import hashlib
from pathlib import Path

import polars as pl
import pytest

from pipeline.demo.plant import make_plant
from pipeline.errors import UsageError

REPOSITORY = Path(__file__).parents[2]


def fingerprints(folder: Path) -> dict[str, str]:
    files = sorted(path for path in folder.rglob("*") if path.is_file())
    return {str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest() for path in files}


def test_same_seed_same_bytes(tmp_path: Path) -> None:
    for name in ("one", "two"):
        make_plant(tmp_path / name, weeks=3, seed=5)
    assert fingerprints(tmp_path / "one") == fingerprints(tmp_path / "two")


def test_another_seed_changes_numbers_and_keeps_the_schedule(tmp_path: Path, plant: Path) -> None:
    make_plant(tmp_path, weeks=60, seed=2)
    trend = "sample_exports/trends/water-2026-W46.csv"
    assert (tmp_path / trend).read_bytes() != (plant / trend).read_bytes()
    schedule = ["fault_id", "tag", "kind", "start", "end"]
    faults = [pl.read_csv(folder / "sample_exports/truth/faults.csv") for folder in (tmp_path, plant)]
    assert faults[0].select(schedule).equals(faults[1].select(schedule))
    excursions = [pl.read_csv(folder / "sample_exports/truth/excursions.csv") for folder in (tmp_path, plant)]
    spans = ["limit_id", "start", "end"]
    last = [table.filter(pl.col("start") >= "2026-11-09").select(spans) for table in excursions]
    assert last[0].equals(last[1])


def test_the_repository_holds_what_is_made(plant: Path) -> None:
    """Every config file, and exports of the first and last week, a DST week, lab, logbook and truth."""
    files = [path.relative_to(plant) for path in sorted((plant / "config").iterdir())]
    for week in ("2025-W39", "2026-W10", "2026-W44", "2026-W46"):
        files += [
            Path(f"sample_exports/trends/{name}-{week}.csv") for name in ("water", "wells", "wastewater")
        ]
    for room in ("lab", "logbook", "truth"):
        files += [path.relative_to(plant) for path in sorted((plant / "sample_exports" / room).iterdir())]
    files.remove(Path("sample_exports/logbook/verdicts.csv"))  # people write into that one
    assert len(files) > 30
    different = [
        str(file) for file in files if (REPOSITORY / file).read_bytes() != (plant / file).read_bytes()
    ]
    assert different == []


def test_the_repository_holds_the_same_files(plant: Path) -> None:
    for room in ("trends", "lab", "truth"):
        made = {path.name for path in (plant / "sample_exports" / room).iterdir()}
        assert {path.name for path in (REPOSITORY / "sample_exports" / room).iterdir()} == made


def test_the_exports_stay_small(plant: Path) -> None:
    size = sum(path.stat().st_size for path in (plant / "sample_exports").rglob("*.csv"))
    assert 10e6 < size < 25e6


def test_a_shorter_making_leaves_nothing_of_a_longer_one(tmp_path: Path) -> None:
    make_plant(tmp_path, weeks=4)
    make_plant(tmp_path, weeks=2)
    assert len(list((tmp_path / "sample_exports/trends").glob("water-*.csv"))) == 2


def test_faults_before_the_start_are_left_out(tmp_path: Path) -> None:
    make_plant(tmp_path, weeks=7)
    faults = pl.read_csv(tmp_path / "sample_exports/truth/faults.csv")
    assert faults["start"].min() > "2026-09-28"  # type: ignore[operator]
    assert "entry-chlorine-low" in faults["fault_id"]
    assert "raw-ph-low" not in faults["fault_id"]


@pytest.mark.parametrize("step_minutes", [1, 5])
def test_finer_steps_work(tmp_path: Path, step_minutes: int) -> None:
    make_plant(tmp_path, weeks=1, step_minutes=step_minutes)
    trend = pl.read_csv(tmp_path / "sample_exports/trends/water-2026-W46.csv")
    assert trend.height == 7 * 24 * 60 // step_minutes
    steps = pl.read_csv(tmp_path / "config/tags.csv")["step_s"].unique().to_list()
    assert steps == [60 * step_minutes]


@pytest.mark.parametrize("wish", [{"weeks": 0}, {"step_minutes": 7}, {"step_minutes": 0}, {"seed": -1}])
def test_senseless_numbers_are_refused(tmp_path: Path, wish: dict[str, int]) -> None:
    with pytest.raises(UsageError):
        make_plant(tmp_path, **wish)
    assert list(tmp_path.iterdir()) == []


def test_another_plant_is_never_overwritten(tmp_path: Path) -> None:
    (tmp_path / "config").mkdir()
    (tmp_path / "config/plant.toml").write_text('name = "Elsewhere"\n')
    with pytest.raises(UsageError, match="another plant"):
        make_plant(tmp_path, weeks=1)
    assert (tmp_path / "config/plant.toml").read_text() == 'name = "Elsewhere"\n'


def test_verdicts_survive_a_new_making(tmp_path: Path) -> None:
    make_plant(tmp_path, weeks=1)
    verdicts = tmp_path / "sample_exports/logbook/verdicts.csv"
    verdicts.write_text(verdicts.read_text() + "x,confirmed,tech1,2026-11-16T08:00,\n")
    make_plant(tmp_path, weeks=1)
    assert "confirmed" in verdicts.read_text()
